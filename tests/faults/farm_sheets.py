"""A small sound smallholding in all record sheets, from which bad sheets are made; all invented."""

# ruff: noqa: E501 - a row of a sheet is a line
from __future__ import annotations

import copy

Grid = list[list[str]]

_TABLES = {
    "pens": """pen,species,line,hens_hatched_on,from,to,males,females,notes
Rowan,coturnix_quail,brown,2025-09-01,2025-11-01,,1,3,
Alder,coturnix_quail,,2025-08-01,2025-11-01,,1,4,by the door
Hazel,chicken,,2025-03-01,2025-11-01,2026-06-30,2,9,""",
    "incubators": """incubator,role,air,capacity_eggs,notes
North,both,still,300,
South,setter,forced,200,bought second hand""",
    "batches": """batch,incubator,hatcher,set_on,transfer_on,pulled_on,notes
B1,North,,2026-03-01T18:30,2026-03-15T08:00,2026-03-19,
B2,South,North,2026-03-08T18:30,,2026-03-29,late""",
    "trays": """batch,tray,pen,laid_from,laid_to,storage_days,storage_c,storage_rh,eggs_set,hatched,culled,infertile,clear,early_dead,late_dead,not_opened,tare_g,weighed_set,weight_set_g,notes
B1,T1,Rowan,2026-02-22,2026-02-27,4,15.5,75,50,38,2,4,1,1,2,2,350.5,50,960,
B1,T2,Alder,2026-02-20,2026-02-28,,16,70,50,25,0,15,,3,4,,,,,tray at the back
B2,T1,Hazel,2026-03-01,2026-03-07,4,14.5,,40,30,1,2,2,1,2,2,,,,""",
    "diets": """pen,from,to,feed,calcium_pct,protein_pct,supplement
Rowan,2026-01-01,2026-02-28,layer,3.2,20,
Rowan,2026-03-01,,layer,3.5,20.5,grit""",
    "changes": """changed_on,scope,target,what,why
2026-03-02,pen,Rowan,new male,old one lame
2026-03-04,all,,lamp at six,""",
    "hatch_counts": """batch,tray,counted_at,out_so_far
B1,T1,2026-03-18T07:00,12
B1,T1,2026-03-18T20:00,39
B2,,2026-03-28T07:00,20""",
    "climate": """incubator,at,temperature_c,humidity_pct
North,2026-03-01T19:00,37.6,45
North,2026-03-01T20:00,37.7,46.5
South,2026-03-08T19:00,37.4,50""",
    "checks": """incubator,at,displayed_c,reference_c,displayed_rh,reference_rh,reference
North,2026-03-02T08:00,37.7,37.4,45,47,glass thermometer""",
    "incubator_events": """incubator,at,event,minutes,notes
North,2026-03-05T10:00,opened,4,
South,2026-03-10T02:00,power_cut,95,storm""",
    "candlings": """batch,tray,on,eggs,clear,dead,cracked,removed
B1,T1,2026-03-08,50,5,1,0,6
B2,T1,2026-03-15,40,4,0,0,4""",
    "targets": """species,measure,target
coturnix_quail,hatch_of_set,0.75""",
    "opened_eggs": """batch,tray,egg,class,day,dry_membrane,malposition,malformed,smell,shell_mm,notes
B1,T1,1,late_dead,16,no,2,no,no,0.2,
B1,T1,2,early_dead,3,,,,yes,,""",
    "fresh_eggs": """pen,opened_on,eggs,fertile
Rowan,2026-03-03,10,9""",
    "shells": """pen,sampled_on,eggs,thickness_mm,specific_gravity,egg_weight_g
Rowan,2026-03-03,10,0.2,1.07,11.5""",
    "lay": """pen,on,eggs,hens,set_aside,why
Rowan,2026-03-01,3,3,0,
Alder,2026-03-01,3,4,1,crack""",
    "chicks": """batch,tray,day,alive,dead,malformed,splay_leg
B1,T1,7,36,2,0,1""",
    "birds": """bird,sex,sire,dam,hatched_on,species,notes
R1,m,,,2025-09-01,coturnix_quail,
R2,f,,,2025-09-01,coturnix_quail,
R3,f,R1,R2,2026-01-10,coturnix_quail,ring lost""",
    "pen_birds": """pen,bird,from,to,left_because
Rowan,R1,2025-11-01,,
Rowan,R2,2025-11-01,2026-02-01,sold""",
}
_GRIDS: dict[str, Grid] = {
    name: [line.split(",") for line in text.splitlines()] for name, text in _TABLES.items()
}
SHEET_NAMES = tuple(_GRIDS)


def good(sheet: str) -> Grid:
    """Heading and rows of a sheet, to be spoilt."""
    return copy.deepcopy(_GRIDS[sheet])
