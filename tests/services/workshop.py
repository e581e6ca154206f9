"""A small workshop as tables: two generations, a handful of parts, three machines."""

import csv
import io

from stash.db.store import Store
from stash.exchange.raw import raw_table
from stash.services.tables import load


def first_coded(start: str) -> str:
    """The first payload from ``start`` on whose check character may be printed."""
    from stash.kernel.codes import ALPHABET, code_from_payload

    for last in ALPHABET:
        code = code_from_payload(start + last)
        if code is not None:
            return str(code)
    raise AssertionError(start)


SHELF = first_coded("SHE1")
BIN_A = first_coded("B1NA")
BIN_B = first_coded("B1NB")
RUNNER = first_coded("RVNR")
PROJECT = first_coded("PRJC")
DONOR = first_coded("D0NR")
CARBS = first_coded("CARB")
CARB_TURNED = first_coded("CTRN")
BOOTS = first_coded("B00T")
CLIPS = first_coded("C11P")
FAST = first_coded("FAST")
MYSTERY = first_coded("MYST")

TABLES = {
    "makers": "key,name\nfen,Fennaby\nrud,Ruddlow\n",
    "families": "key,name\na,engine A\n",
    "generations": "key,family,ordinal,name\na1,a,1,first\na2,a,2,second\n",
    "models": (
        "key,name,maker,generation,from_year,to_year,bore_mm,stroke_mm,rated_rpm\n"
        "early,Early,fen,a1,1965,1969,38,43,5500\n"
        "late,Late,rud,a2,1970,1975,38,43,7000\n"
    ),
    "kinds": (
        "key,name,system,safety_critical,caution\n"
        "carb,carburettor,intake,no,\nboot,intake boot,intake,no,\n"
        "clip,pin clip,top end,no,\nmodule,ignition module,ignition,yes,Check that the switch stops it.\n"
    ),
    "measures": (
        "kind,key,name,type,unit,choices\n"
        "carb,rotation,rotation,choice,deg,0;90\ncarb,spigot_mm,spigot,number,mm,\n"
        "boot,rotation,rotation,choice,deg,0;90\nboot,bore_mm,bore,number,mm,\n"
        "clip,wire_mm,wire,number,mm,\nmodule,rev_limit_rpm,rev limit,number,rpm,\n"
    ),
    "designs": (
        "key,kind,name,maker,generation,price\n"
        "carb-0,carb,straight carburettor,fen,a1,20\ncarb-90,carb,turned carburettor,rud,a2,25\n"
        "boot-0,boot,straight boot,fen,a1,5\nboot-90,boot,turned boot,rud,a2,6\n"
        "clip-10,clip,10 mm clip,fen,a1,1\n"
        "module-55,module,slow module,fen,a1,30\nmodule-85,module,fast module,rud,a2,40\n"
    ),
    "design_measures": (
        "design,measure,value,minus,plus\n"
        "carb-0,rotation,0,,\ncarb-0,spigot_mm,20,0.05,0.05\ncarb-90,rotation,90,,\ncarb-90,spigot_mm,20,0.05,0.05\n"
        "boot-0,rotation,0,,\nboot-0,bore_mm,19,0.1,0.1\nboot-90,rotation,90,,\nboot-90,bore_mm,19,0.1,0.1\n"
        "module-55,rev_limit_rpm,5500,,\nmodule-85,rev_limit_rpm,8500,,\n"
    ),
    "numbers": (
        "number,maker,design,replaced_by\n"
        "FN-11.120-A,fen,carb-0,\nR 11·120/1,rud,carb-90,\nFN-41.055,fen,module-55,\nR 41·085,rud,module-85,\n"
        "77.100,fen,boot-0,\n77.100,rud,clip-10,\n"
    ),
    "positions": (
        "generation,model,position,kind,quantity\n"
        "a1,,carburettor,carb,1\na1,,boot,boot,1\na1,,clip,clip,2\na1,,module,module,1\n"
        "a2,,carburettor,carb,1\na2,,boot,boot,1\na2,,clip,clip,2\na2,,module,module,1\n"
    ),
    "came_on": (
        "design,position,generation\n"
        "carb-0,carburettor,a1\nboot-0,boot,a1\nclip-10,clip,a1\nmodule-55,module,a1\n"
        "carb-90,carburettor,a2\nboot-90,boot,a2\nclip-10,clip,a2\nmodule-85,module,a2\n"
    ),
    "mates": (
        "key,name,kind_a,measure_a,kind_b,measure_b,relation,low,high\n"
        "turn,carburettor and boot rotation,carb,rotation,boot,rotation,same,,\n"
        "push,boot on spigot,boot,bore_mm,carb,spigot_mm,gap,0.5,2\n"
    ),
    "places": f"code,name,inside\n{SHELF},Shelf,\n{BIN_A},Bin A,{SHELF}\n{BIN_B},Bin B,{SHELF}\n",
    "machines": (
        "code,model,year,state,place\n"
        f"{RUNNER},early,1967,runner,\n{PROJECT},late,1972,project,\n{DONOR},early,1966,donor,\n"
    ),
    "fitted": f"machine,position,state,design\n{PROJECT},carburettor,missing,\n{PROJECT},clip,missing,\n",
    "lots": (
        "code,kind,design,quantity,condition,place\n"
        f"{CARBS},carb,carb-0,3,good,{BIN_A}\n{CARB_TURNED},carb,carb-90,1,good,{BIN_A}\n"
        f"{BOOTS},boot,boot-90,2,new,{BIN_B}\n{CLIPS},clip,clip-10,5,new,{BIN_B}\n"
        f"{FAST},module,module-85,1,new,{BIN_B}\n{MYSTERY},carb,,1,unknown,{BIN_B}\n"
    ),
    "wanted": "model,value\nlate,10\n",
    "builds": f"key,name,machine,status\nwinter,Winter build,{PROJECT},open\n",
    "build_parts": f"build,position,lot\nwinter,carburettor,{CARB_TURNED}\n",
}


def furnish(store: Store) -> None:
    """Load the workshop."""
    tables = {name: raw_table(list(csv.reader(io.StringIO(text)))) for name, text in TABLES.items()}
    report = load(store, tables, "owner")
    assert report.ok, [str(problem) for problem in report.errors]
