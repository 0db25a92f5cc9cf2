"""Every symbol of the workbook, once: how it is typeset and what it means.

A test fails on a formula whose parameter or result is not listed here.
"""

from __future__ import annotations

# name in the code: (LaTeX, meaning)
NOMENCLATURE: dict[str, tuple[str, str]] = {
    # the hole and the bar
    "d_0": (r"d_{0}", "diameter of the drilled hole"),
    "phi": (r"\phi", "nominal diameter of the bar (mass-equivalent)"),
    "d_rib": (r"d_{rib}", "diameter of the bar over its ribs"),
    "l_v": (r"l_{v}", "embedment: setting depth of the bar"),
    "overdrill": (r"l_{o}", "depth of the full-diameter hole beyond the bar's end"),
    "theta": (r"\theta", "included point angle of the hole's tip; 180° is a flat bottom"),
    "h_t": (r"h_{t}", "height of the hole's tip cone"),
    "l_hole": (r"l_{h}", "depth of the full-diameter hole"),
    "A_0": (r"A_{0}", "cross-section of the hole"),
    "A_s": (r"A_{s}", "cross-section of the bar"),
    "d_1": (r"d_{1}", "measured diameter at the upper end of a slice"),
    "d_2": (r"d_{2}", "measured diameter at the lower end of a slice"),
    "h": (r"h", "height of a slice of the measured hole"),
    "V_above": (r"V_{above}", "volume of the measured hole above a slice"),
    "V_h": (r"V_{h}", "volume of the measured hole down to a depth"),
    # volumes and doses
    "V": (r"V", "volume of adhesive in the hole"),
    "V_a": (r"V_{a}", "annular volume around the bar"),
    "V_o": (r"V_{o}", "volume of the overdrilled part"),
    "V_t": (r"V_{t}", "volume of the tip cone"),
    "V_req": (r"V_{req}", "required volume: what fills the hole with the bar home"),
    "V_dose": (r"V_{dose}", "dose: required volume and overfill"),
    "V_round": (r"V_{r}", "rounded dose: whole graduations or strokes"),
    "V_extra": (r"V_{x}", "extra adhesive that rounding up costs"),
    "V_over": (r"V_{out}", "overflow at the mouth"),
    "V_short": (r"V_{s}", "shortfall: volume missing from a full hole"),
    "V_max": (r"V_{max}", "most that one pack gives after residual and discard"),
    "V_pack": (r"V_{pack}", "content of a pack"),
    "V_res": (r"V_{res}", "residual: what stays in the emptied pack"),
    "V_disc": (r"V_{disc}", "initial discard for one mixer"),
    "overfill": (r"o", "overfill: the share added to the required volume"),
    "graduation": (r"v_{g}", "graduation of the dispenser"),
    "stroke": (r"v_{g}", "volume of one stroke"),
    "n_g": (r"n_{g}", "whole number of graduations or strokes"),
    # levels
    "x": (r"x", "depth of the bar's end below the mouth"),
    "z": (r"z", "depth of the adhesive's surface below the mouth"),
    "z_0": (r"z_{0}", "depth of the surface below the mouth before the bar goes in"),
    "u": (r"u", "unfilled length at the mouth with the bar home"),
    "f_full": (r"f_{full}", "share of the hole to fill before the bar"),
}


def latex_of(name: str) -> str:
    """Return the LaTeX of a symbol; raises `KeyError` for a name that is not in the nomenclature."""
    return NOMENCLATURE[name][0]
