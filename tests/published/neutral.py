"""Values for neutral.csv: pH of baths that take up alkali, by PHREEQC (US Geological Survey) through the package phreeqpython.

    pip install phreeqpython==1.6.2
    python tests/published/neutral.py > tests/published/neutral.csv

The constants are those of calibration/acids.csv and every ion has the Davies equation, as in column `davies` of phreeqc.csv (phreeqc.py says why). Kinds of row:
`alkali` - sodium hydroxide taken up, so many meq; `carbonate`, `sulfite` - so many ml of that developer mixed with bath to a litre, its carbon
dioxide gone from `carbonate`; `gas` - sodium bicarbonate given, and carbon dioxide at 1 atm above it (log K of CO2(g) = CO2 -1.468, the database phreeqc.dat, PHREEQC's ideal gas).
"""
import os
import pathlib
import tempfile
from importlib.metadata import version

from phreeqc import ELEMENTS, database
from phreeqpython import PhreeqPython

# mol/kg of the acid: 15 g/l of citric acid (192.124 g/mol), 10 and 17 g/l of acetic acid (60.052 g/mol).
BATHS = {"citric 15": ("citric", 15 / 192.124), "acetic 10": ("acetic", 10 / 60.052), "acetic 17": ("acetic", 17 / 60.052)}
# calibration/developers.csv, mol/kg: sulfite 126.043, carbonate 105.988, borax 381.372 g/mol.
DEVELOPERS = {
    "carbonate": ("carbonate-1+2", {"sulfurous": 15 / 126.043, "carbonic": 22.5 / 105.988}, 2 * 15 / 126.043 + 2 * 22.5 / 105.988),
    "sulfite": ("borax-sulfite-1+1", {"sulfurous": 50 / 126.043, "boric": 4 * 1 / 381.372}, 2 * 50 / 126.043 + 2 * 1 / 381.372),
}


def gas_phase():
    return "PHASES\nCbGas\nH2Cb = H2Cb\nlog_k -1.468\nEND\n"


def solve(program, acids, sodium, gas=False):
    lines = ["SOLUTION 1", "temp 25", "units mol/kgw", "pH 7 charge", "-water 1"]
    lines += [f"{ELEMENTS[acid]} {amount:.10f}" for acid, amount in acids.items() if amount > 0]
    lines += [f"Na {sodium:.10f}"] if sodium > 0 else []
    if gas:
        # More gas than ever dissolves, so that it stays at 1 atm.
        lines += ["EQUILIBRIUM_PHASES 1", "CbGas 0.0 10"]
    lines += ["SELECTED_OUTPUT", "-reset false", "-pH true", "-ionic_strength true", "END"]
    program.ip.run_string("\n".join(lines))
    row = program.ip.get_selected_output_array()[-1]
    return float(row[0]), float(row[1])


def main():
    with tempfile.TemporaryDirectory() as folder:
        with open(os.path.join(folder, "davies.dat"), "w") as file:
            file.write(database().removesuffix("END\n") + gas_phase())
        program = PhreeqPython(database="davies.dat", database_directory=pathlib.Path(folder))
        print(f"# pH and ionic strength by PHREEQC, package phreeqpython {version('phreeqpython')}, 25 C; made by neutral.py, which says what the kinds are.")
        print("# amount: meq/l of alkali or bicarbonate, or ml of developer in a litre of the mixture.")
        print("bath,kind,with,amount,ph,ionic_strength")
        for bath, (acid, amount) in BATHS.items():
            equivalents = amount * (3 if acid == "citric" else 1)
            for share in (0.0, 0.25, 0.5, 0.75, 0.9, 0.97):
                ph, salt = solve(program, {acid: amount}, share * equivalents)
                print(f"{bath},alkali,-,{1000 * share * equivalents:.4f},{ph:.4f},{salt:.5f}")
            for kind, (name, contents, sodium) in DEVELOPERS.items():
                for millilitres in (50, 150, 250, 350):
                    part = millilitres / 1000
                    acids = {acid: (1 - part) * amount}
                    acids |= {other: part * content for other, content in contents.items() if other != "carbonic"}
                    ph, salt = solve(program, acids, part * sodium)
                    # Beyond, carbon dioxide of the air would matter.
                    if ph < 8:
                        print(f"{bath},{kind},{name},{millilitres},{ph:.4f},{salt:.5f}")
            for share in (0.6, 0.9, 1.0):
                ph, salt = solve(program, {acid: amount, "carbonic": share * equivalents}, share * equivalents, gas=True)
                print(f"{bath},gas,sodium-bicarbonate,{1000 * share * equivalents:.4f},{ph:.4f},{salt:.5f}")


if __name__ == "__main__":
    main()
