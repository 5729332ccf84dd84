"""The shop's rates and prices: arithmetic, the file, and everything that can be wrong in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import DataError
from diagnose.knowledge.records import Part
from diagnose.planning.shop import Shop
from diagnose.planning.shop_file import file_in_force, load_shop


@pytest.fixture(autouse=True)
def _no_shop_of_the_user(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DIAGNOSE_SHOP", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def written(folder: Path, text: str) -> Path:
    file = folder / "shop.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def test_time_is_labour_and_standing_still() -> None:
    assert Shop(labour=90, downtime=30).time(40) == pytest.approx(80)


def test_parts_with_own_prices_and_consumables() -> None:
    parts = [Part("seal kit", 6, 20, True), Part("pump", 1, 900, False)]
    assert Shop(consumables=0.1, prices={"pump": 500}).parts(parts) == pytest.approx((6 * 20 + 500) * 1.1)


@pytest.mark.parametrize(
    ("amount", "words"),
    [(0, "0 EUR"), (8.4, "8 EUR"), (99.6, "100 EUR"), (123, "125 EUR"), (997, "995 EUR"), (1234, "1,230 EUR"),
     (-250, "-250 EUR")],
)  # fmt: skip
def test_money_is_rounded_as_one_speaks_of_it(amount: float, words: str) -> None:
    assert Shop().money(amount) == words


def test_without_a_file_the_usual_figures_hold() -> None:
    assert file_in_force() is None
    assert load_shop() == Shop()


def test_a_file_sets_what_it_names_and_leaves_the_rest(tmp_path: Path) -> None:
    file = written(tmp_path, 'labour: 120\ncurrency: NOK\nprices: {"high-pressure oil pump": 1190.5}\n')
    shop = load_shop(file)
    assert (shop.labour, shop.currency, shop.prices) == (120, "NOK", {"high-pressure oil pump": 1190.5})
    assert shop.downtime == Shop().downtime


def test_the_file_of_the_environment_and_of_the_configuration_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "config" / "diesel-diagnose"
    folder.mkdir(parents=True)
    usual = written(folder, "labour: 1\n")
    assert (file_in_force(), load_shop().labour) == (usual, 1)
    named = written(tmp_path, "labour: 2\n")
    monkeypatch.setenv("DIAGNOSE_SHOP", str(named))
    assert (file_in_force(), load_shop().labour) == (named, 2)


@pytest.mark.parametrize(
    ("text", "code", "place", "says"),
    [
        ("labour: -5\n", "K014", (1, 9), "from 0 to 1,000,000,000"),
        ("currency: EUR\nprices:\n  pump: -1\n", "K014", (3, 9), "from 0 to 1,000,000,000"),
        ("horizon: 0\n", "K014", (1, 10), "more than 0"),
        ("consumables: 3\n", "K014", (1, 14), "from 0 to 1"),
        ("labor: 90\n", "K010", (1, 1), "labour"),
        ("labour: much\n", "K012", (1, 9), "sum of money"),
        ("prices: [900]\n", "K012", (1, 9), "mapping"),
        ("currency: ''\n", "K016", (1, 11), ""),
        ("labour: 90\nlabour: 95\n", "K005", (2, 1), "labour"),
        ("labour: [\n", "K004", (2, 1), ""),
        ("labour: .nan\n", "K008", (1, 9), ""),
        ("- labour\n", "K012", (1, 1), "shop file"),
    ],
)
def test_what_is_wrong_is_told_with_line_and_column(
    tmp_path: Path, text: str, code: str, place: tuple[int, int], says: str
) -> None:
    file = written(tmp_path, text)
    with pytest.raises(DataError) as caught:
        load_shop(file)
    (problem,) = caught.value.problems
    assert (problem.code, (problem.place.line, problem.place.column)) == (code, place)
    assert problem.place.file == str(file)
    assert says in f"{problem.message} {problem.hint}"


def test_a_file_that_is_named_and_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_SHOP", str(tmp_path / "none.yaml"))
    with pytest.raises(DataError, match="K001"):
        load_shop()
