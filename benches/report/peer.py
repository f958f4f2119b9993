"""The same six pages with matplotlib and reportlab.

usage: peer.py OUT.pdf [--warm]
Reads the data that `report_speed --data` wrote to target/report-data. Prints one line of JSON.
"""

import csv
import io
import json
import sys
import time
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
from matplotlib import pyplot
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle, getSampleStyleSheet
from reportlab.lib.units import mm
from reportlab.platypus import Image, PageBreak, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

DATA = Path("target/report-data")
WARM_RUNS = 5
STYLES = getSampleStyleSheet()
SMALL = ParagraphStyle("small", parent=STYLES["Normal"], fontSize=9)
RULES = TableStyle(
    [
        ("LINEABOVE", (0, 0), (-1, 0), 0.9, colors.black),
        ("LINEBELOW", (0, 0), (-1, 0), 0.5, colors.grey),
        ("LINEBELOW", (0, -1), (-1, -1), 0.9, colors.black),
        ("FONTSIZE", (0, 0), (-1, -1), 9),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ]
)


def picture(figure, height):
    """A chart as a picture, as is usual with these two."""
    bytes_ = io.BytesIO()
    figure.savefig(bytes_, format="png", dpi=150)
    pyplot.close(figure)
    bytes_.seek(0)
    return Image(bytes_, width=166 * mm, height=height * mm)


def curves(flame):
    figure, axes = pyplot.subplots(figsize=(6.5, 3.8))
    styles = ["-", "--", ":", "-."]
    accepted = flame["accepted"]
    axes.axvspan(accepted["from"]["value"], accepted["to"]["value"], color="#EDEBE3")
    for found, style in zip(flame["determinations"], styles):
        with open(DATA / f"curve-{found['number']}.csv") as file:
            points = [(float(at) - found["bottom"]["at_s"], float(value)) for at, value in csv.reader(file)]
        end = found["top"]["at_s"] - found["bottom"]["at_s"] + 2
        points = [point for point in points if -4 <= point[0] <= end]
        axes.plot(*zip(*points), style, label=f"no. {found['number']}: {found['rise']['shown']} s")
    for key in ("window_bottom", "window_top"):
        axes.axhline(flame[key]["value"], color="grey", linewidth=0.7, linestyle="--")
    axes.set_xlabel("time since the block passed 100 °C, s")
    axes.set_ylabel("temperature of the block, °C")
    axes.set_ylim(0, 800)
    axes.legend()
    return picture(figure, 97)


def rises(flame):
    figure, axes = pyplot.subplots(figsize=(6.5, 1.6))
    axes.axvspan(flame["accepted"]["from"]["value"], flame["accepted"]["to"]["value"], color="#EDEBE3")
    for found in flame["determinations"]:
        rise = found["rise"]
        axes.errorbar(rise["value"], -found["number"], xerr=rise["uncertainty"]["expanded"], fmt="ko", capsize=3)
    axes.set_xlabel("rise time with its expanded uncertainty, s")
    return picture(figure, 41)


def strips(specimens):
    figure, axes = pyplot.subplots(figsize=(6.5, 3.4))
    for found in specimens:
        row = -found["number"]
        flamed, glowed = found["afterflame"]["value"], found["afterglow"]["value"]
        axes.barh(row, -found["applied"]["value"], color="#0072B2", height=0.5)
        axes.barh(row, flamed, color="#B34700", height=0.5)
        axes.barh(row, glowed, left=flamed, color="white", edgecolor="#B34700", height=0.5)
        axes.errorbar(flamed + glowed, row, xerr=0.5, color="black", capsize=2)
    axes.axvline(specimens[0]["burning_limit_s"], color="black", linestyle="--")
    axes.set_xlabel("time since the last removal of the test flame, s")
    return picture(figure, 87)


def listing(head, rows, widths):
    cell = lambda value: Paragraph(str(value), SMALL)
    table = Table([head] + [[cell(value) for value in row] for row in rows], colWidths=[w * mm for w in widths], repeatRows=1)
    table.setStyle(RULES)
    return table


def form(pairs):
    return Table([[Paragraph(name, SMALL), Paragraph(str(value), SMALL)] for name, value in pairs], colWidths=[40 * mm, 126 * mm])


def value(found):
    return "–" if found is None else found["shown"] + (f" ± {found['uncertainty']['shown']}" if found["uncertainty"] else "")


def build(out):
    report = json.loads((DATA / "report.json").read_text())
    heading = lambda text: Paragraph(text, STYLES["Heading2"])
    conformity, under, flame = report["conformity"], report["conditions"], report["confirmations"][0]
    story = [
        Paragraph(report["title"], STYLES["Title"]),
        form([("Report number", report["number"]), ("Issued", report["issued"][:10])]
             + [(key, text) for key, text in report["laboratory"].items()]
             + [(key, text) for key, text in report["customer"].items()]
             + [(key, text) for key, text in report["item"].items()]),
        Spacer(1, 6 * mm),
        Paragraph(f"<b>{conformity['words']}</b> {conformity['applies_to']} {conformity['decided_by']}", STYLES["Normal"]),
        *[Paragraph(text, SMALL) for text in report["statements"]],
        PageBreak(),
        heading("What was asked, and how it stood"),
        listing(["Demand", "Limit", "Where", "Number is", "Outcome"],
                [(it["demand"], it["limit"] or "–", it["clause"], it["number_stands"], it["stood"]) for it in conformity["criteria"]],
                [55, 18, 40, 33, 20]),
        form([("Decision rule", conformity["decision_rule"]), ("Risk", conformity["risk"]),
              ("What it shows", conformity["what_it_shows"]), ("Near the limit", conformity["near_limit"])]),
        heading("Results"),
        listing(["No.", "Begun", "Flame on", "Afterflame", "Afterglow", "Burning", "Layer", "Outcome"],
                [(it["number"], it["at"], value(it["applied"]), value(it["afterflame"]), value(it["afterglow"]),
                  value(it["burning"]), it["layer"], it["stood"]) for it in report["specimens"]],
                [12, 38, 18, 22, 22, 22, 20, 12]),
        PageBreak(),
        strips(report["specimens"]),
        listing(["Specimen", "At", "What was seen"],
                [(it["number"], one["at"]["shown"], one["text"]) for it in report["specimens"] for one in it["observations"]],
                [20, 20, 126]),
        PageBreak(),
        heading("Confirmation of the test flame"),
        listing(["No.", "Begun", "Block at start", "Rise time", "Read from"],
                [(it["number"], it["at"], value(it["start"]), value(it["rise"]), it["source"]) for it in flame["determinations"]],
                [12, 38, 26, 30, 60]),
        curves(flame),
        rises(flame),
        PageBreak(),
        heading("Conditions of the test"),
        form([("Durations", under["durations"]), ("Layer", under["layer"]), ("Gas", under["gas"]), ("Atmosphere", under["atmosphere"])]),
        listing(["What", "From", "Until", "Measured", "Asked"], [tuple(it.values()) for it in under["conditioning"]], [25, 36, 36, 35, 34]),
        listing(["No.", "What", "Calibrated", "Due", "Certificate"], [[text or "–" for text in it.values()] for it in under["equipment"]], [20, 70, 26, 26, 24]),
        heading("Departures and remarks"),
        *[Paragraph(text, SMALL) for text in report["deviations"]],
        listing(["Entry", "When", "Who", "What"], [tuple(it.values()) for it in report["remarks"]], [15, 38, 40, 73]),
        PageBreak(),
        heading("Photographs"),
        Table([[Image(str(DATA / f"photo-{row * 2 + column + 1}.jpg"), width=80.5 * mm, height=60 * mm) for column in range(2)] for row in range(2)]),
        heading("Place in the record"),
        Paragraph(f"Entry {report['record']['head_entry']} {report['record']['head_sha256']}", SMALL),
        Paragraph(report["record"]["to_verify"], SMALL),
        Paragraph(f"End of report {report['number']}", STYLES["Heading3"]),
    ]

    def edge(canvas, document):
        canvas.setFont("Times-Roman", 8.5)
        canvas.drawString(22 * mm, 280 * mm, f"{report['laboratory']['name']}  Report {report['number']}")
        canvas.drawString(22 * mm, 15 * mm, f"Page {document.page}  {report['made_up']}")

    document = SimpleDocTemplate(out, pagesize=A4, leftMargin=22 * mm, rightMargin=22 * mm, topMargin=25 * mm, bottomMargin=24 * mm)
    document.build(story, onFirstPage=edge, onLaterPages=edge)
    return {"specimens": len(report["specimens"]), "photos": len(report["photos"])}


result = build(sys.argv[1])
seconds = 0.0
if "--warm" in sys.argv:
    start = time.perf_counter()
    for _ in range(WARM_RUNS):
        build(sys.argv[1])
    seconds = (time.perf_counter() - start) / WARM_RUNS
print(json.dumps({"seconds": seconds, "result": result}))
