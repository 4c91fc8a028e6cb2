"""What a probe in the exhaust shows of the mixture, and what keeps it from the truth.

Air that the exhaust draws in reads lean, and so does a cylinder that misses: its oxygen all comes, while of
its fuel, large slow molecules, the sensor sees only a part.
"""

from __future__ import annotations

from typing import Any

BURNS_LATER = 0.35  # share of missed fuel that burns in the exhaust; from memory, not verified
UNSEEN = 0.6  # of the fuel that comes unburnt, what a lambda probe does not see; from memory, not verified


def drawn_air(leak: Any, air: Any, idle_air: float) -> Any:
    """Outside air that the exhaust draws in over what the engine draws, [-]. Hot.

    The pulses of the gas draw it. They hardly grow with the flow, so what they draw stays, its share fades.

    Args:
        leak: Share of outside air in the exhaust at idle.
        air: What the engine draws; ``idle_air``: what it draws at a right idle, [kg/s].
    """
    return leak / (1.0 - leak) * (idle_air / air)


def pumped_air(injected: Any, air: Any, idle_air: float, speed: Any, idle_speed: float) -> Any:
    """Air that a pump blows into the exhaust over what the engine draws, [-]: it turns with the engine. Hot.

    Args:
        injected: The same at a right idle.
        air, idle_air: As for :func:`drawn_air`. ``speed``, ``idle_speed``: [1/s].
    """
    return injected * (idle_air / air) * (speed / idle_speed)


def shown(mixture: Any, lost: Any, stray: Any) -> Any:
    """Lambda a probe shows, [-]: all oxygen against the fuel it sees. Hot.

    Args:
        mixture: Lambda of all air over all fuel.
        lost: Share of the fuel in charges that did not burn.
        stray: Outside air in the exhaust over what the engine draws.
    """
    return mixture / (1.0 - UNSEEN * (1.0 - BURNS_LATER) * lost) + mixture * stray
