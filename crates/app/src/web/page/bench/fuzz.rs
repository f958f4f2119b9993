//! Arbitrary bytes for the reader of presses that a device sends.

use bolero::check;

use super::{Batch, PressForm, ids};
use crate::web::fuzz::{Changes, changed, corpus};

fn read(bytes: &[u8]) {
    let Ok(batch) = serde_json::from_slice::<Batch>(bytes) else { return };
    drop(ids(&batch.device, &batch.sitting));
    for form in &batch.presses {
        match form.press() {
            Ok(press) => {
                let again = PressForm::of(&press);
                assert_eq!((again.sequence, again.at_us), (form.sequence, form.at_us));
                assert_eq!(
                    (&again.act, &again.input, &again.note),
                    (&form.act, &form.input, &form.note)
                );
            }
            Err(problem) => assert!(problem.text.starts_with("press "), "{}", problem.text),
        }
    }
}

#[test]
fn fuzz_presses_that_are_kept() {
    corpus("presses").iter().for_each(|bytes| read(bytes));
}

#[test]
fn fuzz_presses_that_were_changed() {
    let inputs = corpus("presses");
    check!().with_type::<(u8, Changes)>().for_each(|(which, changes)| {
        read(&changed(&inputs, *which, changes));
    });
}

#[test]
fn fuzz_presses_of_any_bytes() {
    check!().for_each(|bytes: &[u8]| read(bytes));
}
