"""HTML and PDF say the same: the verdict with what it rests on, what was not seen, where every number is from."""

import base64
import hashlib
import re
from dataclasses import replace
from decimal import Decimal as D

import pytest

from inspections.reports import content_security_policy, report_html, report_pdf
from tests.reports import cases
from tests.reports.reading import html_words, page_of, pdf_pages, pdf_words

READERS = pytest.mark.parametrize("read", [html_words, pdf_words], ids=["html", "pdf"])
EVERY_CASE = pytest.mark.parametrize("name", list(cases.CASES))


@READERS
def test_verdict_names_grade_direction_coverage_and_scheme(read):
    # 0.919 of the length, rounded to a whole percentage
    said = read(cases.bad())

    assert "Grade 5 of 5 (5 worst) on 92 % seen of 0 to 62 ft, by the scheme open-five version 1 (1 best, 5" in said


@READERS
def test_verdict_says_when_the_inspection_is_not_the_whole_line(read):
    assert "on 100 % seen of 0 to 37.5 ft, not the whole line" in read(cases.stopped())


@READERS
def test_verdict_comes_before_everything_but_alarms(read):
    said = read(cases.bad())

    assert said.index("Verdict") < said.index("What was not seen") < said.index("Findings along the line")


@READERS
def test_a_scheme_that_counts_the_other_way_is_read_the_other_way(read):
    lateral = cases.lateral(
        defects=[cases.defect("d1", "crack", "10"), cases.defect("d2", "crack", "20")],
        grading=cases.grading(
            [cases.graded("d1", "structural", 1, "old/crack"), cases.graded("d2", "structural", 4, "old/crack")],
            "1",
            1,
            scheme={"id": "old", "version": 2, "best": 5, "worst": 1},
        ),
    )

    said = read(cases.report(lateral))

    assert "Grade 1 (1 worst, 5 best) on 100 % seen" in said
    assert "The worst of 2 findings: no. 1 crack, 10 ft." in said


@READERS
def test_nothing_found_is_not_said_to_be_a_sound_pipe(read):
    said = read(cases.clean())

    assert "Grade 0 (nothing found)" in said
    assert "A recording is not a pressure test" in said


@READERS
def test_nothing_inspected_gives_no_verdict(read):
    said = read(cases.nothing())

    assert "No verdict: nothing has been inspected" in said
    assert "Everything: no camera has been in this pipe." in said


@READERS
def test_inspected_but_not_graded_says_so(read):
    assert "inspected but not graded" in read(cases.report(cases.lateral(grading=None)))


@READERS
def test_unseen_stretches_are_listed_with_their_reason(read):
    assert "31 to 36 ft: under water" in read(cases.bad())


@READERS
def test_a_run_that_stopped_leaves_an_open_end_both_ways(read):
    said = read(cases.stopped())

    assert "from 37.5 ft on, end not known: never reached" in said
    assert "up to 0 ft, start not known: never reached" in said
    assert "stopped short by a defect" in said


@READERS
def test_an_open_end_stops_at_a_main_whose_station_is_known(read):
    assert "30 to 58 ft: never reached" in read(cases.foreign_line())


@READERS
def test_alarm_stands_first_and_says_what_to_do(read):
    said = read(cases.foreign_line())

    alarm = said.index("Alarm: foreign line in the pipe at 29.4 ft")
    assert alarm < said.index("Verdict")
    assert "Do not cut, jet, line or dig here." in said
    assert "call the gas emergency number and the utility" in said


@READERS
def test_a_foreign_line_without_an_alarm_still_gets_its_caution(read):
    lateral = cases.lateral(defects=[cases.defect("d1", "foreign_line", "10")], grading=None)

    assert "It may be a gas main." in read(cases.report(lateral))


@READERS
def test_finding_shows_place_doubt_joint_clock_grade_rule_and_source(read):
    said = read(cases.bad())

    for expected in (
        "27 ft ± 0.9 ft, at a joint",
        "8 to 10 o'clock",
        "width 0.4 mm",
        "offset 0.5 in",
        "open-five/crack/width, Stein & Partner 2001, ch. 4.7.4.3.1",
        "grade 5 in both aspects",
        "6 (ref d6)",
        "run 1 as d6 at counter 27 ft in the clip at 3:05: “pieces have dropped”",
    ):
        assert expected in said


@READERS
def test_contradiction_between_runs_is_shown_with_both_sources(read):
    said = read(cases.two_runs())

    assert "passed the same place in clear view and reports none" in said
    assert "run 1 as d1 at counter 8.4 m; run 2 at counter 10.9 m" in said


@READERS
def test_a_run_tied_to_nothing_keeps_its_counter(read):
    said = read(cases.two_runs())

    assert "station not known, counter 2.1 m" in said
    assert "not tied to the datum: no landmark shared with any other run" in said


@READERS
def test_plans_stand_side_by_side_with_ranges_payers_and_proof(read):
    said = read(cases.bad())

    assert "USD 14,500 to 26,900, likely 19,400" in said
    assert "USD 14,800 to 29,500, likely 21,000" in said
    # the owner carries half of three sections: low (5200 + 3100 + 6200) / 2, likely (7100 + 3900 + 8400) / 2,
    # high (9900 + 5200 + 11800) / 2
    assert "owner: USD 7,250 to 13,450, likely 9,700" in said
    assert "no sound plan of the methods allowed costs less than USD 19,400" in said
    assert "The same work as “Least cost”." in said


@READERS
def test_a_proof_over_incomplete_work_says_that_it_holds_for_what_was_seen(read):
    source = cases.bad()
    least = source.scope["plans"][0]
    cut = {**least, "sections": [{**least["sections"][0], "is_complete": False}, *least["sections"][1:]]}
    stopped = replace(source, scope={**source.scope, "plans": [cut, *source.scope["plans"][1:]]})

    assert "That holds for what was seen" in read(stopped)
    assert "That holds for what was seen" not in read(source)


@READERS
def test_what_no_method_cures_and_what_to_look_at_again_are_named(read):
    said = read(cases.bad())

    assert "no. 7 (sag, 30 to 37.5 ft): No allowed method cures a sag here without digging." in said
    assert "no. 3 (displaced joint, slight, 15 ft), look again by 2029" in said


@READERS
def test_a_plan_without_work_says_that_nothing_may_be_done(read):
    plan = {"name": "least_cost", "sections": [], "total": {"low": 0, "likely": 0, "high": 0}}
    left = [{"defect": "d1", "reason": "Its owner removes it first."}]
    source = cases.report(cases.foreign_line().lateral, scope=cases.scope(plans=[plan], not_curable=left))

    assert "No work: 1 of the findings cannot be cured by any allowed method." in read(source)


@READERS
def test_public_guidance_stands_beside_the_grade(read):
    line = {
        "ref": "d7",
        "says": "moderate: look again in 2 to 5 years",
        "source": "Seattle Public Utilities, side sewers",
    }
    grading = cases.bad().lateral["grading"] | {"guidance": [line]}

    said = read(cases.report(cases.bad().lateral | {"grading": grading}))

    assert "No. 7: moderate: look again in 2 to 5 years (Seattle Public Utilities, side sewers)" in said


@READERS
def test_what_waiting_costs_comes_with_the_caution_of_its_model(read):
    waiting = {
        "caution": "The model stems from sewer mains of one city.",
        "horizon_years": 20,
        "alternatives": [
            {
                "name": "late",
                "is_possible": True,
                "reason": "Everything in 10 years.",
                "present_value": {"low": D("6500"), "likely": D("7369.55"), "high": D("9000")},
                "before_acting": {"year": 10, "share_in_worst_class": D("0.4")},
            },
            {"name": "in_stages", "is_possible": False, "reason": "One stage only.", "present_value": None},
        ],
        "assumptions": ["Prices stay as they are (house rule)."],
    }
    said = read(cases.report(cases.bad().lateral, scope=cases.scope(waiting=waiting)))

    assert "The model stems from sewer mains of one city." in said
    assert "Late: USD 6,500 to 9,000, likely 7,370; before anything is done last, 40 % of such pipes" in said
    assert "In stages: no figure. One stage only." in said
    assert said.index("The model stems") < said.index("Late: USD")


@READERS
def test_a_plan_that_is_not_possible_has_no_price_anywhere(read):
    plans = [
        {"name": name, "is_possible": False, "reason": "A foreign line passes.", "sections": [], "total": None}
        for name in ("least_cost", "least_digging", "whole_line")
    ]
    said = read(cases.report(cases.bad().lateral, scope=cases.scope(plans=plans, impossible="A foreign line passes.")))
    assert "No plan is possible, and so there is no price. A foreign line passes." in said
    assert "The plans section by section" not in said
    assert "USD 0" not in said
    assert "Nothing to do in this plan" not in said


@READERS
def test_a_section_says_that_it_is_incomplete_and_when_it_is_worked(read):
    scope = cases.scope()
    section = scope["plans"][0]["sections"][0]
    section |= {
        "order": 2,
        "order_reasons": ["Lining last."],
        "incomplete": "Incomplete: nobody saw on.",
        "cures_in_part": ["d6"],
    }
    said = read(cases.report(cases.bad().lateral, scope=scope))
    assert "Step 2. Lining last." in said
    assert "Incomplete: nobody saw on." in said
    assert "Cures as far as was seen" in said


def test_checks_and_quantities_are_folded_on_a_screen_and_all_on_paper():
    page = page_of(cases.bad())
    sections = sum(len(plan["sections"]) for plan in cases.bad().scope["plans"])
    assert 0 < page.tags.count("details") == page.tags.count("summary") <= 2 * sections
    assert "script" not in page.tags  # it unfolds by itself
    printed = pdf_words(cases.bad())
    assert "Quantities of S1" in printed and "Check: trench" in printed


@READERS
def test_the_cautions_that_can_save_a_life_are_there(read):
    said = read(cases.bad())

    for expected in ("29 CFR 1926 Subpart P", "Call before you dig", "Sewage", "confined spaces", "decision aids"):
        assert expected in said


@READERS
def test_numbers_can_be_traced_to_digests_and_ids(read):
    said = read(cases.bad())

    assert "5f0c" * 16 in said
    assert "9ab1" * 16 in said
    assert "0b2f7a52-9d1c-4f0e-8a57-6f0c1f2d3e4a" in said


@READERS
def test_who_asked_who_looked_and_when_is_said(read):
    said = read(cases.bad())

    assert "Asked by Ida Marlowe; inspected by Larkspur Drain Survey; on 2026-03-04; job AF-2041." in said
    assert "When 2026-03-04 09:12 to 09:41 (UTC-05:00) By R. Okafor" in said


@READERS
def test_each_run_says_how_it_was_done_and_from_where_to_where(read):
    said = read(cases.bad())

    for expected in (
        "Run 1, downstream",
        "From front clean-out",
        "How recorded while pulling back",
        "Counter 0 to 62 ft",
        "End reached the main",
        "Camera head 1.4 in, on a skid",
        "cleaned before: yes; water introduced: no; flow during: low",
    ):
        assert expected in said


@READERS
def test_recordings_are_named_by_file_and_digest_without_the_key_in_their_address(read):
    said = read(cases.bad())

    assert "run.mp4 10:14" in said
    assert "c0de" * 16 in said
    assert "9f3" not in said.replace("9f3e4a", "")
    assert "clips.example" not in said


@READERS
def test_where_no_picture_is_kept_the_report_says_so(read):
    assert "No pictures are kept with these findings" in read(cases.report(cases.bad().lateral))


@READERS
def test_what_was_computed_from_an_earlier_state_is_called_so(read):
    scope = {**cases.scope(), "is_current": False}
    said = read(cases.report(cases.lateral(is_current=False), scope=scope))

    assert "The records have changed since this was graded" in said
    assert "The plans below were computed from an earlier state" in said


@READERS
def test_where_nothing_may_be_proposed_no_plan_and_no_price_is_shown(read):
    scope = {**cases.scope(), "impossible": "A foreign line passes through the drain."}
    said = read(cases.report(cases.lateral(), scope=scope))

    assert "No plan: A foreign line passes through the drain." in said
    assert "Least cost" not in said


@READERS
def test_a_shared_report_says_how_it_is_shared(read):
    heading = {**cases.HEADING, "shared": "Shown by a link made on Monday."}
    said = read(cases.report(cases.lateral(), heading=heading))

    assert "Shown by a link made on Monday. It shows the newest state of the records" in said
    assert "Shown by" not in read(cases.report(cases.lateral()))


@READERS
def test_alarms_of_the_scope_are_shown_once(read):
    alarm = {"code": "imminent_collapse", "detail": "The crown hangs at 12 ft.", "at": D("12"), "ref": "d1"}
    source = cases.report(cases.lateral(alarms=[alarm]), scope=cases.scope(alarms=[alarm]))

    assert read(source).count("The crown hangs at 12 ft.") == 1 + (read is html_words) * 2  # and in two drawings


@EVERY_CASE
def test_same_input_gives_the_same_bytes(name):
    make = cases.CASES[name]

    assert report_html(make()) == report_html(make())
    assert report_pdf(make()) == report_pdf(make())


@EVERY_CASE
def test_page_needs_nothing_from_elsewhere_and_runs_nothing(name):
    page = page_of(cases.CASES[name]())

    assert not {"script", "link", "iframe", "object", "embed", "base", "form"} & set(page.tags)
    assert not [attribute for attribute in page.attributes if attribute.startswith("on")]
    assert all(link.startswith("data:") for link in page.links)


def test_the_policy_offered_fits_the_page():
    styles = re.findall("<style>(.*?)</style>", report_html(cases.bad()), re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(styles[0].encode()).digest()).decode()

    assert len(styles) == 1
    assert f"style-src 'sha256-{digest}'" in content_security_policy()
    assert "style" not in page_of(cases.bad()).attributes  # an inline style would need more than that


@EVERY_CASE
@pytest.mark.parametrize(("page", "width", "height"), [("letter", 612, 792), ("a4", 595.28, 841.89)])
def test_pdf_is_on_the_paper_asked_for_with_numbered_pages(name, page, width, height):
    pages = pdf_pages(cases.CASES[name](), page).pages

    for place, sheet in enumerate(pages, start=1):
        assert float(sheet.mediabox.width) == pytest.approx(width, abs=0.01)
        assert float(sheet.mediabox.height) == pytest.approx(height, abs=0.01)
        assert f"page {place} of {len(pages)}" in sheet.extract_text()


def test_hostile_words_stay_words():
    source = cases.hostile()
    page = page_of(source)

    assert "script" not in page.tags
    assert "img" not in page.tags
    assert "b" not in page.tags
    assert "<script>alert(1)</script>" in html_words(source)
    assert "<img src=x onerror=alert(1)>" in html_words(source)
    assert "<script>alert(1)</script>" in pdf_words(source)


def test_direction_turning_and_forbidden_characters_become_visible():
    said = report_html(cases.hostile())

    for forbidden in ("\u202e", "\x00", "\ud800"):
        assert forbidden not in said
    assert "\u05e9\u05dc\u05d5\u05dd \ufffdgnp.exe \U0001f6bd" in said
    said.encode("utf-8")


def test_letters_the_pdf_typeface_has_not_are_shown_as_missing():
    assert "???? ?gnp.exe ? & 'quoted'" in pdf_words(cases.hostile())


def test_very_long_words_are_shortened_in_the_pdf_and_whole_in_the_page():
    source = cases.report(cases.lateral(), heading=cases.HEADING | {"instructions": "word " * 4000})

    assert "18499 more letters" in pdf_words(source)  # 4000 * 5 - 1 letters, 1500 shown
    assert html_words(source).count("word") == 4000


# The smallest PNG there is: one black dot, grey, 8 bit (PNG specification, ISO/IEC 15948).
DOT = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010800000000"
    "3a7e9b550000000a49444154789c63600000000200014863a8b70000000049454e44ae426082"
)


def test_picture_of_a_finding_is_in_both():
    source = replace(cases.bad(), pictures={"d6": DOT})

    assert "data:image/png;base64,iVBORw0KGgo" in report_html(source)
    assert "No. 6: broken, 27 ft" in pdf_words(source)
    assert sum(len(page.images) for page in pdf_pages(source).pages) == 1


def test_a_picture_that_is_none_is_named_and_left_out():
    source = replace(cases.bad(), pictures={"d6": b"not a picture"})

    assert "No. 6: broken, 27 ft: the picture cannot be read" in html_words(source)
    assert "No. 6: broken, 27 ft: the picture cannot be read" in pdf_words(source)


@pytest.mark.parametrize("key", list(cases.scope()))
def test_any_gap_or_nonsense_in_the_scope_still_gives_a_report(key):
    for value in (None, [], {}, "", "x", 0, [None], [{}], [{"sections": [{}], "total": 5, "payers": {"owner": 3}}]):
        source = cases.report(cases.bad().lateral, scope=cases.scope() | {key: value})

        assert "Sources and digests" in report_html(source)


@pytest.mark.parametrize("key", list(cases.lateral()))
def test_any_gap_or_nonsense_in_the_lateral_still_gives_a_report(key):
    for value in (None, [], {}, "", "x", 0, [{}]):
        source = cases.report(cases.bad().lateral | {key: value}, scope=cases.scope())

        assert "Sources and digests" in report_html(source)
    assert report_pdf(cases.report(cases.bad().lateral | {key: [{}]})).startswith(b"%PDF")


def test_a_run_and_a_heading_with_nothing_in_them_still_give_a_report():
    source = cases.report(cases.lateral(), runs=[{}], heading={})

    assert "address not given" in html_words(source)
    assert "direction not given" in html_words(source)
