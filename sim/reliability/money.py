"""Money: exact decimals with their ISO 4217 code, steps of a contract clause, deductible and cap.

In: texts such as `12 500 EUR`, frozen clauses, measured figures. Out: frozen `Money`. A float never
is an amount, and two currencies are never mixed: both are errors of the caller (TypeError,
ValueError). What a person wrote wrong is an `InputError`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from sim.errors import nearest_name, refuse
from sim.quantity import shorten

MINOR = {
    **dict.fromkeys("BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF".split(), 0),
    **dict.fromkeys("BHD IQD JOD KWD LYD OMR TND".split(), 3),
    **dict.fromkeys(
        """
        AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN
        BZD CAD CDF CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP
        GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL
        MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK
        PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SYP SZL THB TJS
        TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VES WST XCD YER ZAR ZMW
        """.split(),
        2,
    ),
}
"""ISO 4217 codes and how many decimals each is paid in (values from memory)."""
_WRITTEN = re.compile(r"(\d{1,3}(?: \d{3})+|\d+)(\.\d+)?\s*([^\W\d_]*)")
LONGEST = 18
"""Digits of an amount that a person may write."""


@dataclass(frozen=True, slots=True)
class Money:
    """An exact amount in one currency. Raises TypeError for a float, ValueError for no number."""

    amount: Decimal
    currency: str

    def __post_init__(self) -> None:
        if not isinstance(self.amount, Decimal):
            raise TypeError(f"amount {self.amount!r}: a Decimal")
        if self.currency not in MINOR or not self.amount.is_finite():
            raise ValueError(f"{self.amount} {self.currency}: a number and an ISO 4217 code")

    def __add__(self, other: Money) -> Money:
        return Money(self.amount + _same(self, other), self.currency)

    def __sub__(self, other: Money) -> Money:
        return Money(self.amount - _same(self, other), self.currency)

    def __mul__(self, times: int | Decimal | Fraction) -> Money:
        if not isinstance(times, int | Decimal | Fraction):
            raise TypeError(f"money times {times!r}: a whole number, Decimal or Fraction")
        if isinstance(times, Fraction):
            return Money(self.amount * times.numerator / times.denominator, self.currency)
        return Money(self.amount * times, self.currency)

    def __lt__(self, other: Money) -> bool:
        return self.amount < _same(self, other)

    def __le__(self, other: Money) -> bool:
        return self.amount <= _same(self, other)

    def __str__(self) -> str:
        """To the smallest coin, half to even, thousands apart: `12 500.50 EUR`."""
        places = MINOR[self.currency]
        coin = self.amount.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN) + 0
        whole = places and coin == coin.to_integral_value()
        return f"{coin:,.{0 if whole else places}f} {self.currency}".replace(",", " ")


def _same(one: Money, other: Money) -> Decimal:
    if one.currency != other.currency:
        raise ValueError(f"{one} with {other}: one currency only")
    return other.amount


def nothing(currency: str) -> Money:
    """No money, in a currency."""
    return Money(Decimal(0), currency)


def total(amounts: Iterable[Money], currency: str) -> Money:
    """The sum, which is in `currency` also where there is nothing to add."""
    return sum(amounts, nothing(currency))


def expected(losses: Iterable[tuple[float, Money]], currency: str) -> Money:
    """The mean of losses, each with its probability; a probability counts as the float it is."""
    return total((loss * Fraction(chance) for chance, loss in losses), currency)


def parse_money(text: str, where: str) -> Money:
    """`12 500 EUR`, `12500.50 EUR`. Raises InputError."""
    allowed = "an amount and its ISO 4217 code, as 12 500 EUR"
    found = _WRITTEN.fullmatch(text.strip())
    if not found or len(re.sub(r"\D", "", text)) > LONGEST:
        raise refuse(where, f"{shorten(text)} is not an amount of money", allowed, todo=_HOW)
    whole, part, code = found[1].replace(" ", ""), found[2] or "", found[3]
    if code not in MINOR:
        wrong = f"an unknown currency {code!r}" if code else "no currency"
        near = nearest_name(code.upper(), MINOR) if code else ""
        todo = f"write {whole}{part} and the code"
        raise refuse(where, f"{shorten(text)} has {wrong}", allowed, near, todo)
    if len(part) - 1 > MINOR[code]:
        most = f"at most {MINOR[code]} decimals in {code}"
        raise refuse(where, f"{shorten(text)} is finer than the smallest coin", most, todo="round")
    return Money(Decimal(whole + part), code)


_HOW = "write digits, a point before decimals, nothing else, then the code"


# ---- what a contract takes back ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Step:
    """Over so much (strictly; in the unit that the clause measures), so much is due: a share of the
    fee, or a fixed amount, or both.
    """

    over: Fraction
    share: Fraction = Fraction(0)
    amount: Money | None = None


@dataclass(frozen=True, slots=True)
class Clause:
    """A clause in steps: only the highest step that was reached is due."""

    name: str
    steps: tuple[Step, ...]


def due(clause: Clause, measured: Fraction, fee: Money) -> Money:
    """What a clause costs for a measured figure."""
    reached = [step for step in clause.steps if measured > step.over]
    if not reached:
        return nothing(fee.currency)
    highest = max(reached, key=lambda step: step.over)
    return fee * highest.share + (highest.amount or nothing(fee.currency))


def check_steps(clause: Clause, currency: str, where: str) -> None:
    """Refuse steps that are missing, repeated, negative, above the whole fee, in another currency,
    or that cost less for more. Raises InputError.
    """
    steps = sorted(clause.steps, key=lambda step: step.over)
    if steps and _rises(steps) and all(_fits(step, currency) for step in steps):
        return
    allowed = f"steps over rising figures from 0, each 0 to 100 % or {currency}, never less again"
    shown = ", ".join(f"over {s.over}: {float(100 * s.share):g} %" for s in clause.steps) or "none"
    todo = f"mend the steps of {clause.name!r}"
    raise refuse(where, f"the steps of {clause.name!r} ({shown})", allowed, todo=todo)


def _fits(step: Step, currency: str) -> bool:
    amount = step.amount or nothing(currency)
    return (
        step.over >= 0
        and 0 <= step.share <= 1
        and (amount.currency == currency and amount.amount >= 0)
    )


def _rises(steps: Sequence[Step]) -> bool:
    amounts = [step.amount.amount if step.amount else Decimal(0) for step in steps]
    shares, overs = [step.share for step in steps], {step.over for step in steps}
    return len(overs) == len(steps) and shares == sorted(shares) and amounts == sorted(amounts)


@dataclass(frozen=True, slots=True)
class Cover:
    """What somebody else bears of a loss: what exceeds `deductible`, up to `cap` (None: no end)."""

    deductible: Money
    cap: Money | None = None


def covered(loss: Money, cover: Cover) -> Money:
    """The part of one loss that the cover pays."""
    over = max(loss - cover.deductible, nothing(loss.currency))
    return over if cover.cap is None else min(over, cover.cap)


def kept(loss: Money, cover: Cover) -> Money:
    """The part of one loss that stays: the deductible, and what lies beyond the cap."""
    return loss - covered(loss, cover)


def capped(dues: Sequence[Money], cap: Money) -> Money:
    """All dues of one show together, which a contract holds to `cap`."""
    return min(total(dues, cap.currency), cap)
