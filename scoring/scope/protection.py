"""How trenches and pits are held, in the words every quantity and check takes them by."""

from scoring.scope.trench import SLOPE_BY_SOIL


def protection_words(protection: str, soil: str | None) -> str:
    """Return how trenches and pits are held, as every quantity and check takes it."""
    soil = soil or "unclassified"
    if protection == "shored":
        words = "Trenches and pits of 5 ft (1.524 m) and more are shored (rate book), so no side is sloped."
        if soil == "unclassified":
            words += " The soil was not classified: shoring is chosen as for type C until it is."
        return words
    ratio = f"{SLOPE_BY_SOIL[soil].normalize():f}"
    words = f"Trenches of 5 ft (1.524 m) and more are sloped at {ratio} to 1 (rate book); pits are shored."
    if soil == "unclassified":
        return words + " The soil was not classified, which asks for 1.5 to 1 (29 CFR 1926.652(b)(1))."
    return words + f" Soil {soil}, dug before: never type A (29 CFR 1926 Subpart P, Appendix A and Table B-1)."
