"""Drawings of the Spanish pack: what has another id there is drawn as in the English packs."""

from __future__ import annotations

from collections.abc import Mapping

from vocab.drawings.shapes import Drawing

DRAWN_AS = {
    "espejo_bucal": "mouth_mirror",
    "espejo_de_mano": "hand_mirror",
    "explorador": "explorer_shepherd",
    "sonda_periodontal": "perio_probe",
    "pinza_algodonera": "cotton_pliers",
    "guia_de_color": "shade_guide",
    "rollo_de_algodon": "cotton_roll",
    "gasa": "gauze_square",
    "dique": "dam_sheet",
    "dique_sin_latex": "dam_sheet_latex_free",
    "perforador_de_dique": "dam_punch",
    "grapa": "dam_clamp",
    "portagrapas": "dam_clamp_forceps",
    "arco_de_young": "dam_frame",
    "seda_dental": "dental_floss",
    "anestesia_topica": "topical_anaesthetic",
    "jeringa_de_anestesia": "aspirating_syringe",
    "aguja_corta": "needle_short",
    "aguja_larga": "needle_long",
    "cartucho_con_vasoconstrictor": "cartridge_vasoconstrictor",
    "cartucho_simple": "cartridge_plain",
    "cucharilla": "spoon_excavator",
    "cincel": "straight_chisel",
    "hachuela": "hatchet",
    "azadon": "hoe",
    "recortador_mesial": "margin_trimmer_mesial",
    "recortador_distal": "margin_trimmer_distal",
    "turbina": "high_speed_handpiece",
    "micromotor": "slow_speed_motor",
    "contraangulo": "contra_angle",
    "fresa_330": "bur_330",
    "fresa_245": "bur_245",
    "fresa_redonda_2": "bur_round_2",
    "fresa_redonda_4": "bur_round_4",
    "matriz": "matrix_band",
    "portamatriz": "matrix_retainer",
    "cuna": "wedge",
    "pinza_para_cunas": "wedge_remover",
    "acido_grabador": "etchant",
    "adhesivo": "bonding_agent",
    "micropincel": "applicator_brush",
    "resina_compuesta": "universal_composite",
    "resina_fluida": "flowable_composite",
    "lampara_de_fotocurado": "curing_light",
    "portaamalgama": "amalgam_carrier",
    "condensador": "condenser_small",
    "brunidor": "ball_burnisher",
    "tallador_hollenback": "hollenback_carver",
    "espatula_de_resina": "composite_paddle",
    "capsula_de_amalgama": "amalgam_capsule",
    "base_cavitaria": "glass_ionomer",
    "canula_de_aspiracion": "high_volume_tip",
    "eyector": "saliva_ejector",
    "jeringa_triple": "air_water_syringe",
    "papel_de_articular": "articulating_paper",
    "pinza_de_papel": "articulating_forceps",
    "tira_de_pulir": "finishing_strip",
    "gafas_de_proteccion": "safety_glasses",
    "gafas_del_paciente": "patient_eyewear",
    "contenedor_de_punzantes": "sharps_container",
}
"""Ids of the Spanish pack to the ids they are drawn as."""


def spanish(drawings: Mapping[str, Drawing]) -> dict[str, Drawing]:
    """The drawings of the Spanish pack, out of those of the English ones."""
    return {item: drawings[drawn_as] for item, drawn_as in DRAWN_AS.items()}
