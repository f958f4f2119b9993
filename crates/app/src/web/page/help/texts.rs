//! The texts of Help. A test holds that each word stands on its screen.

use super::Text;

/// One for each screen, in the order of the bar.
pub(super) const TEXTS: &[Text] = &[
    Text {
        of: "/sign-in",
        name: "sign-in",
        title: "Sign in",
        what: "Every press and every act has a person. Name and password say who you are.",
        words: &[
            ("Name", "As the record knows it; capitals do not matter."),
            ("Password", "The one you chose with your link. It may be pasted."),
            ("Sign in", "Opens Today, or the page you came from."),
        ],
        ways_out: &[
            (
                "The name and the password do not belong together.",
                "Check both. For a forgotten password ask who looks after people for a link.",
            ),
            (
                "The next is taken in 30 s.",
                "There were 5 wrong passwords for the name, or 20 sign-ins from this address \
                 within a minute. Wait; who is in stays in.",
            ),
            (
                "This device signed what was asked more than 2 min ago.",
                "Open the page again and sign in once more.",
            ),
            (
                "This link has been used, or is older than 15 min.",
                "Ask for a new one. On the machine that serves the book, `serve --link NAME` \
                 writes one.",
            ),
        ],
    },
    Text {
        of: "/",
        name: "today",
        title: "Today",
        what: "What there is to do now, for you and for the laboratory.",
        words: &[
            ("At the bench now", "Specimens that somebody times at this moment."),
            ("Ready to test", "Plans that were found ready and have specimens left."),
            ("Waiting for you", "Specimens to describe, and plans that wait for an act."),
            ("Falls due", "Equipment whose calibration ends soon, or has ended."),
            ("Plan a test", "Begins the questions of a new plan."),
            ("Go to the bench", "Chooses a specimen to time."),
        ],
        ways_out: &[(
            "All lists are empty.",
            "Nothing is planned: Plan a test. With no equipment yet, register it first.",
        )],
    },
    Text {
        of: "/flame",
        name: "flame",
        title: "Flame",
        what: "Whether the flame is confirmed, till when, and by which determinations of its \
               temperature.",
        words: &[
            ("Bring in a file", "A logger's file of one determination: it is read, and recorded."),
            (
                "Why is it so?",
                "What a determination's curve tells of flame, air, block and thermocouple, and what \
                 may be the matter when it will not confirm.",
            ),
            (
                "Base line of the flame",
                "What is usual on this bench. A person freezes it; later flames are held against it.",
            ),
        ],
        ways_out: &[
            ("A determination is wrong.", "Void it and say why. It stays visible, struck through."),
            (
                "The program ended during a heating.",
                "What was read of it is in the book, void where its curve was not whole. Take the \
                 flame away, let the block cool and begin another sitting.",
            ),
            (
                "The flame is no longer confirmed.",
                "Its time is over, or the gas was changed. Confirm it again before the next test.",
            ),
        ],
    },
    Text {
        of: "/flame/chart",
        name: "flame-chart",
        title: "Flame chart",
        what: "Whether the flame stays where it was: every confirmation, what changed at the bench, \
               and the calls of a slow change.",
        words: &[
            ("What changed", "Gas lots, other pieces and what was done, each by its letter."),
            ("Confirmations", "The same as the picture, as numbers."),
            (
                "By which numbers",
                "Weight and limits, each with its source, and how soon they call.",
            ),
        ],
        ways_out: &[
            (
                "The flame has been getting slower.",
                "Look at what changed at the turn. Clean, set or change it, confirm the flame, and \
                 note what was done: that closes the call.",
            ),
            (
                "Results may be touched.",
                "Tested since the last good confirmation lists them with their reports.",
            ),
            (
                "There is no base line yet.",
                "Confirm the flame as usual: 20 confirmations make one.",
            ),
        ],
    },
    Text {
        of: "/care",
        name: "care",
        title: "Care of the bench",
        what: "What is done again and again so that the flame stays right, each with its interval, and \
               when it falls due.",
        words: &[
            ("Done now", "Records that the act was done at this moment, with your name."),
            (
                "The laboratory's own intervals",
                "After how many days or specimens each falls due, and \
                whether it is needed for ready.",
            ),
        ],
        ways_out: &[(
            "Something due stands in the way of a plan.",
            "Do it and record it. Or an engineer writes why that plan is tested all the same: the \
             reason prints on its report.",
        )],
    },
    Text {
        of: "/care/commissioning",
        name: "commissioning",
        title: "A new bench",
        what: "What is looked at before a new bench is used, kept as a record. Local codes and licensed \
               practice decide; the list is no proof of safety.",
        words: &[("Keep this list", "Records what was found at each point, with your name.")],
        ways_out: &[(
            "A point is not in order.",
            "Record it so, put it right, and go through the list again: both stay in the record.",
        )],
    },
    Text {
        of: "/bench",
        name: "bench",
        title: "Bench",
        what: "Times one specimen with one button. Each press is kept on the device before it is \
               shown; no network is needed until the specimen is finished.",
        words: &[("Specimen", "Opens the dark page for it.")],
        ways_out: &[
            (
                "No specimen is ready to be tested.",
                "Open its plan: it says what is missing before the flame.",
            ),
            (
                "A press was wrong.",
                "Last press was wrong goes one state back while time runs on. Both stay in the log.",
            ),
            (
                "Kept on this tablet, not sent yet.",
                "Nothing is lost and nothing is to be done: it is sent when the book answers.",
            ),
            (
                "Another device times this specimen.",
                "Watch it, or take over: that is a deliberate act, and it is recorded.",
            ),
        ],
    },
    Text {
        of: "/plans",
        name: "plans",
        title: "Plans",
        what: "Every test that was planned, the last one first.",
        words: &[("Plan a test", "One question a page, or all on one; then a page to check.")],
        ways_out: &[(
            "A number can be read in two ways.",
            "Type 1234 or 1.2340: the page never guesses what a comma or a point means.",
        )],
    },
    Text {
        of: "/plans/{plan}",
        name: "plan",
        title: "A plan",
        what: "One test: what was planned, what is missing before the flame, its specimens and its \
               reports.",
        words: &[
            ("Before the flame", "What is missing, each with the way out."),
            ("Cautions", "Read them before the first flame, and say that you did."),
            ("Conditioning", "How specimens and layer were stored before the test."),
            ("Specimens", "Each with its times and its verdict by the rules."),
            ("Reports", "Those that were issued on this plan."),
        ],
        ways_out: &[(
            "It is not found ready.",
            "Put right what the list names, then Check the readiness again. A refusal is kept too.",
        )],
    },
    Text {
        of: "/specimens/{specimen}",
        name: "specimen",
        title: "A specimen",
        what: "One specimen: its presses and marks on a strip of time, what was seen, the judgement \
               by the rules, and all changes.",
        words: &[
            ("The strip of time", "From the removal of the flame on; each mark with its time."),
            ("What was seen", "As described in the light."),
            ("Judgement by the rules", "Each criterion with the value and the limit."),
            ("History", "Every entry on it; nothing is taken away."),
        ],
        ways_out: &[
            (
                "It was not seen in the flame.",
                "Go to the bench, or describe it without presses where a stop-watch timed it.",
            ),
            (
                "A film does not lie beside the presses yet.",
                "Listen for the bench's tones in it, or look for the picture in which the flame is \
                 removed.",
            ),
        ],
    },
    Text {
        of: "/plans/{plan}/review",
        name: "review",
        title: "Review",
        what: "The specimens of a plan in rows, odd things first: a late removal, a stated ±, no film, \
               times that were typed, a flame confirmed on the narrow side, corrections.",
        words: &[
            ("Specimen", "Opens it with its strip of time."),
            ("Signatures", "Who signed, in which meaning, and whether it covers what stands now."),
            ("Send back", "With a note that who tested it reads first at Today."),
        ],
        ways_out: &[
            (
                "A value is doubtful.",
                "Open the specimen: the presses stand beside the described values.",
            ),
            (
                "Approve and sign is not there.",
                "Open each odd thing first. Each specimen is signed as tested, by who tested it; and \
                 who tested does not approve, unless the laboratory allows it in writing.",
            ),
        ],
    },
    Text {
        of: "/sign",
        name: "sign",
        title: "Sign",
        what: "What is signed, in which meaning, and which entries of the record the signature \
               covers. The first signature of a sitting takes name and password, each further one \
               the password.",
        words: &[
            ("Meaning", "Tested by, reviewed by, or approved by."),
            ("It covers", "The entries that make what is signed."),
            ("SHA-256", "What they hash to: the signature is bound to it."),
        ],
        ways_out: &[
            (
                "It no longer covers this record.",
                "Something was changed after it. Look at what came since, and sign again.",
            ),
            ("You have no password.", "Ask who looks after people for a link."),
        ],
    },
    Text {
        of: "/sign/rules",
        name: "signatures",
        title: "Signatures",
        what: "Which signatures a report needs, and whether one person may test and approve. As long \
               as nothing is set, they follow from who may test and who may review or issue.",
        words: &[("Set this", "Records it, with the reason.")],
        ways_out: &[(
            "One person works here alone.",
            "Allow one person to test and approve, with the reason; reports that make use of it \
             print it.",
        )],
    },
    Text {
        of: "/reports",
        name: "reports",
        title: "Reports",
        what: "The reports that were issued, each beside its data, and plans that wait for one.",
        words: &[("Reports", "Each with its number, its plan, and who issued it when.")],
        ways_out: &[(
            "A report was wrong.",
            "Issue a new one on the same plan: it says what it replaces. The old one stays readable.",
        )],
    },
    Text {
        of: "/equipment",
        name: "equipment",
        title: "Equipment",
        what: "What the laboratory tests with, what falls due, and the lots in use.",
        words: &[
            ("Record a calibration", "With its certificate; it holds till the day you give."),
            ("Register a piece", "Under the mark on its label."),
            ("Open a lot", "Gas, tissue or board. New gas ends the confirmation of the flame."),
        ],
        ways_out: &[(
            "A piece is not in calibration.",
            "Record its calibration, or plan the test with another piece.",
        )],
    },
    Text {
        of: "/record",
        name: "record",
        title: "Record",
        what: "All that was kept, in its order: who, when, what. Nothing is ever taken away.",
        words: &[
            ("Check the record now", "Reads all entries and files again, and says if all agree."),
            ("Show these", "Only entries of a person, a thing or a kind."),
        ],
        ways_out: &[(
            "The record does not check.",
            "Issue nothing, tell the quality manager, and restore a backup into another folder.",
        )],
    },
    Text {
        of: "/record/review",
        name: "record-review",
        title: "Review of the trail",
        what: "Once a month somebody looks at what was changed, by whom and why, and signs. The next \
               review begins where this one ends.",
        words: &[
            ("Changes", "Corrections, withdrawals, what was set aside or let through."),
            ("Entries by kind", "All entries since the last review, counted."),
        ],
        ways_out: &[(
            "A change says no reason.",
            "Ask who made it, and record the answer by a correction.",
        )],
    },
    Text {
        of: "/setup",
        name: "set-up",
        title: "Set up",
        what: "Who may come in, where you are signed in, how the book is reached and kept, and which \
               rules are built in.",
        words: &[
            ("Your sign-ins", "End any that you do not know, or that you left open."),
            ("Second factor", "A code from an authenticator, besides the password."),
            ("Devices", "Those that are enrolled. End one that is lost: it is out at once."),
            ("Invite", "Admits a person to the record, and shows a link once."),
            ("Make a link", "For a person who forgot the password. Earlier links end."),
            ("Name", "Its page has roles, authorisations by method, and Disable."),
            ("Security log", "Who came in, who was refused, what was done about people."),
            ("Method editions", "How many numbers of each stand as seen or from memory."),
        ],
        ways_out: &[
            ("You do not look after people.", "Administrators do; the page names them."),
            (
                "Nobody can sign in who looks after people.",
                "On the machine that serves the book: `serve --link NAME`.",
            ),
        ],
    },
    Text {
        of: "/device",
        name: "this-device",
        title: "This device",
        what: "What a phone, tablet or PC must have before it goes to the bench. The page looks for \
               itself; what only you can tell it asks.",
        words: &[
            ("Secure page", "The page came enciphered, or from this machine itself."),
            ("Presses stay kept", "The browser will not clear presses away before they are sent."),
            ("Clock", "How far this device's clock is from the book's."),
            ("Screen stays on", "It does not go dark while a specimen is at the bench."),
            ("Sound", "Three ticks that you hear at your place."),
            ("Switch", "A foot switch or presenter: pressed once, or taught."),
            ("Camera", "Allowed, for a film beside the presses."),
            ("Everything is ready", "Goes to the bench, or says what is not in order yet."),
            (
                "Enrolment",
                "Whether the book knows this device. An administrator enrols it here, once; then the \
                 password is enough to sign in on it.",
            ),
        ],
        ways_out: &[
            (
                "The bench opens on enrolled devices alone.",
                "On an enrolled one sign out and in again; else have it enrolled on this page.",
            ),
            (
                "Something is missing.",
                "Each line says what to do. What cannot be had is gone on without, on purpose.",
            ),
            (
                "The device warns of the book.",
                "Trust this book: three steps, at /device/certificate.",
            ),
        ],
    },
    Text {
        of: "/device/certificate",
        name: "certificate",
        title: "Trust this book",
        what: "A device is told once to trust the book's own authority. Then it keeps presses without \
               network, holds the screen on and gives the camera.",
        words: &[("Download the certificate", "Then three steps, for each kind of device.")],
        ways_out: &[(
            "The SHA-256 is another than the one written where the book was opened.",
            "Do not trust it: somebody else answers at this address.",
        )],
    },
];
