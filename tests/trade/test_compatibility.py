"""What may go over what: each outside rule, and a job's order that the proposals mend."""

from dataclasses import replace
from itertools import product

import pytest

from tackwatch.trade.compatibility import (
    can_be,
    goes_over,
    material_of,
    may_be_thinned,
)
from tackwatch.trade.compatibility_table import (
    ANTIFOULING,
    BARE,
    COATS,
    COPPER,
    EPOXY,
    GROUNDS,
    MATERIALS,
    RIGID,
    ROWS,
    RUBBERY,
    STATES,
    STYRENE,
)
from tackwatch.trade.errors import TradeError
from tackwatch.trade.job_order import JobStep, Surface, after_step, check_order, steps_of
from tests.trade.samples import outside, profiles

QUESTIONS = [
    (over, under, state)
    for over, under, state in product(MATERIALS, GROUNDS, STATES)
    if can_be(under, state)
]
VERDICT_OF = {"ok": "yes", "conditional": "only_if", "block": "no"}


def verdict(over, under, state):
    return goes_over(over, under, state).verdict


def codes(over, under, state):
    return {reason.code for reason in goes_over(over, under, state).reasons}


def expected(check_id):
    return VERDICT_OF[outside()[check_id]["expected"]["verdict"]]


@pytest.mark.parametrize("over", sorted(COATS - STYRENE - {"one_part"}))
@pytest.mark.parametrize("under", ["epoxy_paint", "polyurethane"])
def test_past_its_window_a_thermoset_is_sanded_by_mil_hdbk_1110_2_2_3b(over, under):
    answer = goes_over(over, under, "washed")
    assert answer.verdict == expected("compat.thermoset_cured")
    assert "sand" in answer.mends
    if under == "epoxy_paint" and over in EPOXY | ANTIFOULING:
        assert answer.or_else == ("tack_coat",)


@pytest.mark.parametrize("kind", ["epoxy_paint", "polyurethane", "one_part", "gelcoat"])
def test_the_same_generic_type_goes_over_itself_by_mil_hdbk_1110_4_2_4(kind):
    assert verdict(kind, kind, "keyed") == expected("compat.same_type")
    assert verdict(kind, kind, "green") == expected("compat.same_type")


@pytest.mark.parametrize(("over", "under"), list(product(sorted(RIGID), sorted(RUBBERY))))
def test_nothing_rigid_goes_over_what_is_flexible_by_mil_hdbk_1110_2_4_3(over, under):
    for state in STATES:
        if can_be(under, state):
            assert verdict(over, under, state) == expected("compat.rigid_on_flexible")


@pytest.mark.parametrize("state", ["tacky", "green", "keyed"])
def test_polyurethane_goes_over_epoxy_by_mil_hdbk_1110_2_3_4a(state):
    assert verdict("polyurethane", "epoxy_paint", state) == expected("compat.pu_on_epoxy")


@pytest.mark.parametrize("over", sorted(ANTIFOULING))
def test_antifouling_goes_on_tacky_epoxy_or_on_a_tack_coat_by_navfac_mo_124(over):
    assert verdict(over, "epoxy_paint", "tacky") == "yes"
    late = goes_over(over, "epoxy_paint", "green")
    assert late.verdict == expected("compat.af_on_epoxy")
    assert late.mends == ("tack_coat",)


@pytest.mark.parametrize("over", sorted(COPPER))
def test_copper_never_goes_on_bare_aluminium_common_practice_and_contested(over):
    for state in ("bare", "keyed", "washed", "glossy"):
        answer = goes_over(over, "bare_aluminium", state)
        assert answer.verdict == expected("compat.cu_on_bare_al")
    assert "Bagley" in goes_over(over, "bare_aluminium", "bare").reasons[0].contested
    assert verdict("antifouling_copper_free", "bare_aluminium", "bare") == "only_if"


@pytest.mark.parametrize(("over", "under"), list(product(sorted(STYRENE), sorted(EPOXY))))
def test_no_polyester_nor_gelcoat_goes_on_epoxy_common_practice(over, under):
    for state in STATES:
        if can_be(under, state):
            assert verdict(over, under, state) == expected("compat.polyester_on_epoxy")


@pytest.mark.parametrize(("over", "under"), list(product(sorted(EPOXY), sorted(STYRENE))))
def test_epoxy_goes_on_cured_polyester_ground_clean_by_soundings_magazine(over, under):
    assert verdict(over, under, "keyed") == expected("compat.epoxy_on_polyester")
    assert verdict(over, under, "washed") == "only_if"
    assert verdict(over, under, "tacky") == "only_if"


def test_acetone_in_resin_is_refused_by_the_composites_trade_magazine_2015():
    for over in sorted(STYRENE):
        answer = may_be_thinned(over, "acetone")
        assert answer.verdict == expected("compat.acetone")
        assert answer.reasons[0].status == "published"
    assert may_be_thinned("one_part", "makers_thinner").verdict == "only_if"
    assert may_be_thinned("epoxy_resin", "white_spirit").verdict == "no"


@pytest.mark.parametrize("over", ["epoxy_resin", "epoxy_paint", "polyurethane"])
def test_strong_solvents_never_go_over_one_part_paint_by_mil_hdbk_1110_2_4(over):
    for state in ("tacky", "green", "washed", "keyed"):
        assert verdict(over, "one_part", state) == "no"
        assert "strong_on_one_part" in codes(over, "one_part", state)


def test_unknown_paint_is_tried_by_a_patch_by_mil_hdbk_1110_4_2_4():
    for over in MATERIALS:
        answer = goes_over(over, "old_unknown", "keyed")
        assert (answer.verdict, answer.mends) == ("only_if", ("test_patch",))


@pytest.mark.parametrize("over", sorted(COATS - STYRENE))
def test_amine_blush_is_washed_off_before_it_is_ground_common_practice(over):
    for state in ("glossy", "keyed_unwashed"):
        answer = goes_over(over, "epoxy_resin", state)
        assert answer.verdict == "only_if"
        assert answer.mends == ("clean", "sand")
        assert "blush" in codes(over, "epoxy_resin", state)


@pytest.mark.parametrize("over", sorted(STYRENE))
def test_wax_is_sanded_off_before_the_next_ply_common_practice(over):
    answer = goes_over(over, "polyester_waxed", "waxed")
    assert (answer.verdict, answer.mends) == ("only_if", ("clean", "sand"))
    assert verdict(over, "polyester_waxed", "keyed") == "yes"


def test_nothing_holds_on_silicone_or_dirt_by_mil_hdbk_1110_11_4_2():
    for over, under in product(MATERIALS, GROUNDS):
        assert verdict(over, under, "contaminated") == "no"
    for over in MATERIALS:
        assert verdict(over, "silicone", "keyed") == "no"


def test_every_question_has_an_answer_with_a_reason_and_a_way():
    for question in QUESTIONS:
        answer = goes_over(*question)
        assert answer.reasons
        assert all(reason.source for reason in answer.reasons), question
        assert (answer.verdict == "yes") is (answer.mends == ()), question
        assert {reason.code for reason in answer.reasons} != {"not_in_table"}, question


def test_every_row_of_the_table_decides_some_question():
    deciding = {reason.code for question in QUESTIONS for reason in goes_over(*question).reasons}
    assert deciding == {row.id for row in ROWS}
    assert {row.status for row in ROWS} == {"published", "common_practice"}


@pytest.mark.parametrize(
    ("question", "field"),
    [
        (("mud", "gelcoat", "keyed"), "over"),
        (("gelcoat", "mud", "keyed"), "under"),
        (("gelcoat", "gelcoat", "wet"), "state"),
        (("gelcoat", "bare_wood", "tacky"), "state"),
        (("gelcoat", "gelcoat", "bare"), "state"),
        (("gelcoat", "old_unknown", "green"), "state"),
    ],
)
def test_a_question_that_is_none_is_refused_by_its_field(question, field):
    with pytest.raises(TradeError) as caught:
        goes_over(*question)
    assert caught.value.field == field


def test_every_bundled_product_has_a_material_and_a_profile_may_say_its_own():
    for profile in profiles().values():
        assert material_of(profile.product_class) is not None, profile.id
    assert material_of("antifouling_hard", "antifouling_copper_free") == "antifouling_copper_free"
    assert material_of("wallpaper") is None


def mended(steps, under, state, rounds=6):
    """Put in what is proposed before the first wrong step, until nothing is found or nothing helps."""
    for _ in range(rounds):
        found = check_order(steps, under, state)
        if not found:
            return steps, ()
        if not found[0].proposals:
            return steps, found
        i = [step.step_id for step in steps].index(found[0].step_id)
        new = [
            JobStep(f"m{len(steps)}.{k}", one.kind, one.material, True, "tack" in one.title_key)
            for k, one in enumerate(found[0].proposals)
        ]
        steps = [*steps[:i], *new, *steps[i:]]
    raise AssertionError(f"the proposals go round in a circle: {found[0]}")


@pytest.mark.parametrize("under", GROUNDS)
def test_what_is_proposed_mends_the_order_unless_another_product_is_needed(under):
    for over, state in product(MATERIALS, STATES):
        if not can_be(under, state):
            continue
        _, left = mended([JobStep("s", "coat", over, in_window=True)], under, state)
        if left:
            assert left[0].verdict == "no"
            assert over in STYRENE


def test_a_sound_barrier_scheme_passes_whole():
    steps = [
        JobStep("sand", "sand"),
        JobStep("clean", "clean"),
        JobStep("b1", "coat", "epoxy_paint"),
        JobStep("b2", "coat", "epoxy_paint", in_window=True),
        JobStep("a1", "coat", "antifouling_soft", in_window=True),
        JobStep("a2", "coat", "antifouling_soft", in_window=True),
        JobStep("water", "wait"),
    ]
    assert check_order(steps, "epoxy_paint", "washed") == ()
    late = [replace(step, in_window=step.in_window and step.step_id != "a1") for step in steps]
    found = check_order(late, "epoxy_paint", "washed")
    assert [one.step_id for one in found] == ["a1"]
    assert [one.kind for one in found[0].proposals] == ["sand"]
    assert [(one.kind, one.material) for one in found[0].or_else] == [("coat", "epoxy_paint")]


def test_gelcoat_over_an_epoxy_patch_is_named_and_no_step_is_proposed():
    steps = [
        JobStep("lay", "laminate", "epoxy_resin"),
        JobStep("wash", "clean"),
        JobStep("sand", "sand"),
        JobStep("gel", "coat", "gelcoat"),
    ]
    found = check_order(steps, "bare_laminate", "keyed")
    assert [(one.step_id, one.verdict, one.proposals) for one in found] == [("gel", "no", ())]


def test_resin_that_is_sanded_before_it_is_washed_is_named():
    lay, paint = JobStep("lay", "laminate", "epoxy_resin"), JobStep("paint", "coat", "polyurethane")
    found = check_order([lay, JobStep("sand", "sand"), paint])
    assert [one.step_id for one in found] == ["paint"]
    assert [one.kind for one in found[0].proposals] == ["clean", "sand"]
    assert check_order([lay, JobStep("c", "clean"), JobStep("sand", "sand"), paint]) == ()


def test_one_mistake_is_told_once_and_what_is_not_known_is_not_judged():
    silicone = JobStep("bed", "bed", "silicone")
    coats = [JobStep("c1", "coat", "polyurethane"), JobStep("c2", "coat", "polyurethane", True)]
    assert [one.step_id for one in check_order([silicone, *coats])] == ["c1"]
    assert check_order([JobStep("c1", "coat", "gelcoat")]) == ()
    assert (
        check_order([JobStep("x", "coat"), JobStep("c1", "coat", "gelcoat")], "silicone", "keyed")
        == ()
    )


def test_a_state_without_its_material_is_refused():
    with pytest.raises(TradeError) as caught:
        check_order([], None, "keyed")
    assert caught.value.field == "under"
    with pytest.raises(TradeError) as caught:
        check_order([], "bare_wood", "tacky")
    assert caught.value.field == "state"


def test_grinding_takes_paint_off_and_leaves_resin_keyed():
    below = ("bare_aluminium", "epoxy_paint")
    painted = Surface("one_part", "washed", below)
    assert after_step(painted, "grind") == Surface("epoxy_paint", "keyed", ("bare_aluminium",))
    assert after_step(Surface("gelcoat", "glossy"), "grind").state == "keyed"
    assert after_step(Surface("silicone", "glossy"), "grind") == Surface("old_unknown", "keyed")
    assert after_step(Surface("one_part", "tacky", fresh=False), "wait").state == "green"
    for under in BARE:
        assert after_step(Surface("one_part", "keyed", (under,)), "grind").state == "bare"


def test_every_mend_but_another_product_is_a_step():
    made = steps_of(
        ("wait", "clean", "sand", "tack_coat", "prime", "strip", "test_patch"), "epoxy_paint"
    )
    assert [one.kind for one in made] == [
        "wait",
        "clean",
        "sand",
        "coat",
        "coat",
        "grind",
        "inspect",
    ]
    assert steps_of(("other_product",)) == ()
