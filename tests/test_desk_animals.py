"""Animals and the ceiling that follows from them."""

import pytest
from estimate_worlds import make_tank

from dawnlevel.desk.animals.animal_words import read_animals, with_ceiling, write_animals
from dawnlevel.desk.animals.animals import animals_view
from dawnlevel.errors import BadInputError, DawnlevelError
from dawnlevel.sources import find_source
from dawnlevel.tank import AnimalKind, Animals
from dawnlevel.tank.livestock import GUIDANCE, Evidence, guided_ceiling_mg_l

FISH, SHRIMP = Animals(AnimalKind.FISH, 50, 1.0), Animals(AnimalKind.SHRIMP, 20, 0.2)


def test_every_kind_has_guidance_with_sources_and_says_where_no_figure_was_found() -> None:
    for kind in AnimalKind:
        one = GUIDANCE[kind]
        assert 15.0 <= one.ceiling_mg_l <= 30.0  # from the Norwegian criterion to the start of warnings
        assert all(find_source(key) for key in one.sources)
        assert one.published != ("No figure found" in one.says)
        assert one.published or one.evidence is not Evidence.FAIR


def test_published_figures_are_the_sources_own() -> None:
    """Alabaster & Lloyd 1980: 20 mg/L for salmonids; Wedemeyer 1996: 20 to 30 for warm-water species."""
    assert GUIDANCE[AnimalKind.COLD_WATER].ceiling_mg_l == 20.0
    assert GUIDANCE[AnimalKind.FISH].ceiling_mg_l == 30.0


def test_the_strictest_counts() -> None:
    assert guided_ceiling_mg_l(()) == 30.0
    assert guided_ceiling_mg_l((FISH,)) == 30.0
    assert guided_ceiling_mg_l((FISH, SHRIMP)) == 20.0


def test_a_load_of_fish_takes_the_oxygen_worked_out_by_hand() -> None:
    """50 g of 1-g fish in 100 L at 25 degC: 22 mg/h at rest, 0.22 mg/L/h; 0.35 to 0.45 as they move."""
    view = animals_view(make_tank(animals=(FISH,), volume_l=100.0, temp_c=25.0))
    assert view.groups[0].resting_oxygen_mg_h == pytest.approx(22.0, rel=0.03)
    assert 0.35 < view.oxygen_mg_l_h.median < 0.45
    assert view.oxygen_mg_l_h.low_90 < 0.35
    assert view.oxygen_mg_l_h.high_90 > 0.45
    assert view.co2_mg_l_h == pytest.approx(1.27 * view.oxygen_mg_l_h.median, rel=0.01)


def test_words_there_and_back() -> None:
    animals = read_animals("fish:50:1g, shrimp:20:0.2")
    assert animals == (FISH, SHRIMP)
    assert read_animals(write_animals(animals)) == animals
    assert read_animals("none") == ()
    assert write_animals(()) == "none"
    assert read_animals("fish:1:0.01lb")[0].grams == pytest.approx(4.5359237)  # international pound, exact


@pytest.mark.parametrize(
    "text", ["fish", "fish:12", "whale:1:5g", "fish:many:5g", "fish:0:5g", "fish:3:0g", "fish:3:5cups", ","]
)
def test_what_is_no_animals_is_told(text: str) -> None:
    with pytest.raises(DawnlevelError) as caught:
        read_animals(text)
    assert caught.value.cure


def test_a_new_tanks_ceiling_follows_and_a_higher_one_needs_a_reason() -> None:
    assert with_ceiling({"animals": (FISH, SHRIMP)})["co2_limit_mg_l"] == 20.0
    assert with_ceiling({"animals": (SHRIMP,), "co2_limit_mg_l": 12.0})["co2_limit_mg_l"] == 12.0
    with pytest.raises(BadInputError, match="above the 20 mg/L that guidance allows for shrimp"):
        with_ceiling({"animals": (SHRIMP,), "co2_limit_mg_l": 20.5})
    with pytest.raises(BadInputError, match="where no animals are described"):
        with_ceiling({"co2_limit_mg_l": 31.0, "limit_reason": "  "})
    given = {"animals": (SHRIMP,), "co2_limit_mg_l": 25.0, "limit_reason": "held there for years"}
    assert with_ceiling(given) == given


def test_a_changed_tanks_ceiling_moves_with_its_animals_unless_it_was_set_lower() -> None:
    followed = make_tank(animals=(SHRIMP,), co2_limit_mg_l=20.0)
    assert with_ceiling({"animals": (FISH,)}, followed)["co2_limit_mg_l"] == 30.0
    lower = make_tank(animals=(SHRIMP,), co2_limit_mg_l=15.0)
    assert with_ceiling({"animals": (FISH,)}, lower)["co2_limit_mg_l"] == 15.0
    reasoned = make_tank(animals=(SHRIMP,), co2_limit_mg_l=25.0, limit_reason="held")
    assert with_ceiling({"animals": (FISH,)}, reasoned)["limit_reason"] == ""
    assert with_ceiling({"co2_limit_mg_l": 18.0}, reasoned)["limit_reason"] == ""
    assert with_ceiling({"temp_c": 24.0}, make_tank(co2_limit_mg_l=40.0)) == {"temp_c": 24.0}
