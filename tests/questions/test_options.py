"""One description of an option: what the command line takes, and what a page makes of what was typed."""

from __future__ import annotations

import pytest
from typer.main import get_command

from pricing.cli.commands.study import app
from pricing.errors import UsageFault
from pricing.questions.every import QUESTIONS
from pricing.questions.option import Option, Refused, chosen

MIX = {option.name: option for option in QUESTIONS["mix"].options}
QUANTITY = {option.name: option for option in QUESTIONS["quantity"].options}


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_command_line_has_every_option_of_a_question_and_no_other(name):
    question, command = QUESTIONS[name], get_command(app).commands[name]
    taken = {flag for parameter in command.params for flag in parameter.opts if flag.startswith("--")}
    usual = {"--as-of", "--json", "--csv", "--help"} | ({"--plot", "--force"} if question.has_picture else set())
    usual |= {"--asked"} if question.asked_prices else set()
    assert taken - {"--help"} == {option.flag for option in question.options} | usual - {"--help"}
    required = {parameter.opts[0] for parameter in command.params if parameter.required}
    assert required == {option.flag for option in question.options if option.required}
    assert command.help.startswith(question.about)


def test_what_is_typed_on_a_page_becomes_what_the_command_line_hands_over():
    assert QUANTITY["up_to"].value_of([" 12 "]) == 12 and QUANTITY["up_to"].value_of([""]) == 50
    assert MIX["cash"].value_of(["2.5"]) == 2.5 and MIX["cash"].value_of([]) is None
    assert MIX["most"].value_of(["thimble=3", " ", "shop=9"]) == ["thimble=3", "shop=9"]
    assert MIX["most"].value_of([" "]) is None
    assert MIX["shares"].value_of(["yes"]) is True and MIX["shares"].value_of([]) is False


@pytest.mark.parametrize(
    ("option", "typed", "said"),
    [
        (QUANTITY["up_to"], "1.5", '"1.5" is no whole number. Write it in digits, as in 12.'),
        (MIX["cash"], "much", '"much" is no number. Write it in digits, as in 2.5.'),
        (MIX["cash"], "12,5", '"12,5" is no number. Write 12.5.'),
        (MIX["cash"], "20 %", '"20 %" is no number. Write 0.2.'),
        (MIX["cash"], "some %", '"some %" is no number. Write it in digits, as in 0.2 for 20 %.'),
        (MIX["cash"], "inf", '"inf" is no number. Write it in digits, as in 2.5.'),
        (MIX["cash"], "1e-320", "--cash: 9.99989e-321 is smaller than anything in a workshop. Look it up again."),
        (MIX["cash"], "-1e308", "--cash: -1e+308 is larger than anything in a workshop. Look it up again."),
        (QUANTITY["up_to"], "9" * 400, "--up-to: this number is larger than anything in a workshop. Look it up again."),
        (QUANTITY["sku"], " ", "Piece is not said. The product."),
    ],
)
def test_what_cannot_be_is_told_for_its_option(option: Option, typed, said):
    with pytest.raises(Refused) as refused:
        option.value_of([typed])
    assert (str(refused.value), refused.value.option, refused.value.exit_code) == (
        said,
        option.name,
        UsageFault.exit_code,
    )


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 1e-320, 10**400, -(10**400), [0.5, 1e300]])
def test_no_command_goes_on_with_a_number_that_no_workshop_has(value):
    with pytest.raises(Refused, match="^--cash: "):
        MIX["cash"].within(value)


@pytest.mark.parametrize("value", [0, 0.0, -3, 2.5, True, None, "1e400", [0.5, 2]])
def test_what_can_be_stays_as_it_was_said(value):
    assert MIX["cash"].within(value) is value


def test_an_unknown_name_is_told_for_its_option():
    with pytest.raises(Refused, match='no channel "shpo". Did you mean "shop"') as refused:
        chosen("channel", "channel", ["shpo"], ["shop", "stall"])
    assert refused.value.option == "channel"
    assert chosen("channel", "channel", ["stall", "shop"], ["shop", "stall"]) == ["shop", "stall"]
