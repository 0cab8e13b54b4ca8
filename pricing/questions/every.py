"""Every question that both faces ask, in the order in which they are told."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.questions.alloy import ALLOY
from pricing.questions.band import BAND
from pricing.questions.doubt import DOUBT
from pricing.questions.map import MAP
from pricing.questions.mix import MIX
from pricing.questions.model import Question
from pricing.questions.quantity import QUANTITY
from pricing.questions.sale import SALE
from pricing.questions.week import WEEK
from pricing.questions.year import YEAR

QUESTIONS: Mapping[str, Question] = MappingProxyType(
    {question.name: question for question in (WEEK, DOUBT, QUANTITY, MIX, SALE, ALLOY, MAP, YEAR, BAND)}
)
