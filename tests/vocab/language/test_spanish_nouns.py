"""Articles before Spanish names: by the name's own noun, or by the item's usual name where it has none."""

from __future__ import annotations

import pytest

from vocab.language.by_language import noun_forms
from vocab.language.spanish_nouns import forms
from vocab.pack.load import shipped_pack

WITH_ARTICLE = """
el espejo bucal, la sonda periodontal, la pinza algodonera, las pinzas algodoneras, el explorador, la
cucharilla, el hacha, la hachuela, el portagrapas, los guantes de nitrilo, las gafas de protección, el
fórceps para anillos, la luz halógena, la matriz, la base cavitaria, el sistema adhesivo, la curación
provisional, el aspirasaliva, la aspiración de alta, el abrebocas, la tijera, las tijeras, los rollos, la
obturación provisional, el composite, la profilaxis, el gel ácido, la guía de color, el par de guantes, la
alta velocidad, el cubre bandeja, el vástago para discos, el azadón, la bolsa de autoclave, el papel de
articular, el tapabocas
"""


@pytest.mark.parametrize("said", " ".join(WITH_ARTICLE.split()).split(", "))
def test_a_noun_has_its_own_article(said: str) -> None:
    article, _, name = said.partition(" ")
    assert forms(name, "fresa" if article.startswith("el") or article == "los" else "tubo")["el"] == article


@pytest.mark.parametrize(
    ("name", "usual", "article"),
    [
        ("330", "fresa 330", "la"),
        ("W7", "grapa", "la"),
        ("Hollenback", "tallador de Hollenback", "el"),
        ("Nabers", "sonda de furca", "la"),
        ("17/23", "explorador 17/23", "el"),
        ("tres en uno", "jeringa triple", "la"),
        ("discoide-cleoide", "tallador discoide-cleoide", "el"),
    ],
)
def test_a_number_or_a_persons_name_has_that_of_the_usual_name(name: str, usual: str, article: str) -> None:
    assert forms(name, usual)["el"] == article


def test_what_agrees_with_it_has_its_gender_and_number() -> None:
    many, one = forms("gafas", "gafas"), forms("hacha", "hacha")
    assert "{El} {al} {o} {lo} {n}".format(**many) == "Las a las as las n"
    assert "{El} {al} {o} {lo} {n}".format(**one) == "El al a la "


def test_anything_that_a_clinic_may_call_a_thing_has_an_article() -> None:
    for name, usual in (("Espejo", "Espejo"), ("3", "3"), ("", "x"), ("(nuevo)", "¿?"), ("ñ", "ñ")):
        assert forms(name, usual)["el"] in ("el", "la", "los", "las")
    for item in shipped_pack("operativa_es").items:
        for one in item.names:
            assert noun_forms(one.text, item.name.text, "es")["el"]
    assert noun_forms("mirror", "mouth mirror", "en") == {}
