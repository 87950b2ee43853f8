"""Values for phreeqc.csv: PHREEQC (US Geological Survey), a general-purpose equilibrium program, by way of the package phreeqpython.

    pip install phreeqpython==1.6.2
    python tests/published/phreeqc.py > tests/published/phreeqc.csv

Column `davies`: PHREEQC given the constants of calibration/acids.csv and no parameters for any ion, so that it takes the Davies equation; it then checks the
solver's arithmetic, not the constants. Column `own`: PHREEQC with its database phreeqc.dat: other constants, its own salt model, sodium pairs; given where
that database knows the acids. Both work in mol per kg of water, so the figures below are put in as such.
"""
import csv
import math
import os
import pathlib
import tempfile
from importlib.metadata import version

from phreeqpython import PhreeqPython

HERE = os.path.dirname(os.path.abspath(__file__))
TABLE = os.path.join(HERE, "..", "..", "calibration", "acids.csv")

# Master species for each acid: an element of our own name, so that nothing of another database interferes.
ELEMENTS = {"citric": "Ci", "acetic": "Ac", "boric": "Bo", "carbonic": "Cb", "phosphoric": "Po", "ammonium": "Am", "sulfurous": "Sf", "phthalic": "Pt"}

# name, temperature, acid amounts, sodium, chloride (mol/kg)
CASES = [
    ("citric 15 g/l fresh", 25, {"citric": 0.07807}, 0.0, 0.0),
    ("citric 15 g/l half spent", 25, {"citric": 0.07807}, 0.12, 0.0),
    ("citric 15 g/l turning", 25, {"citric": 0.07807}, 0.21, 0.0),
    ("citric 15 g/l cold", 15, {"citric": 0.07807}, 0.12, 0.0),
    ("acetic 10 g/l fresh", 25, {"acetic": 0.16652}, 0.0, 0.0),
    ("acetic 10 g/l half spent", 25, {"acetic": 0.16652}, 0.083, 0.0),
    ("acetic 10 g/l turning", 25, {"acetic": 0.16652}, 0.162, 0.0),
    ("acetic 10 g/l warm", 35, {"acetic": 0.16652}, 0.083, 0.0),
    ("acetic with carbonate developer", 25, {"acetic": 0.15, "carbonic": 0.03, "sulfurous": 0.015}, 0.09, 0.0),
    ("citric with sulfite developer", 25, {"citric": 0.07, "sulfurous": 0.08, "boric": 0.002}, 0.161, 0.0),
    ("metabisulfite 30 g/l", 25, {"sulfurous": 0.3156}, 0.3156, 0.0),
    ("citrate-phosphate 5.5", 20, {"citric": 0.0229, "phosphoric": 0.0542}, 0.1084, 0.0),
    ("phosphate 1:1", 25, {"phosphoric": 0.05}, 0.075, 0.0),
    ("phosphate 1:1 warm", 40, {"phosphoric": 0.05}, 0.075, 0.0),
    ("borax 0.01", 25, {"boric": 0.04}, 0.02, 0.0),
    ("borax 0.01 cold", 10, {"boric": 0.04}, 0.02, 0.0),
    ("carbonate 0.025 each", 25, {"carbonic": 0.05}, 0.075, 0.0),
    ("phthalate 0.05", 25, {"phthalic": 0.05}, 0.05, 0.0),
    ("ammonia 0.01", 25, {"ammonium": 0.01}, 0.0, 0.0),
    ("ammonia half neutralised", 25, {"ammonium": 0.1}, 0.0, 0.05),
    ("hydrochloric 0.1", 25, {}, 0.0, 0.1),
    ("sodium hydroxide 0.01", 25, {}, 0.01, 0.0),
    ("salt and a trace of acid", 25, {"acetic": 0.001}, 0.4, 0.4),
]

# Elements of the acids that phreeqc.dat knows. Its carbonate is left out: it pairs sodium so strongly that it misses the standard buffer by 0.145.
OWN = {"phosphoric": "P", "boric": "B", "ammonium": "N(-3)"}


def steps():
    with open(TABLE) as table:
        rows = csv.DictReader(line for line in table if not line.startswith("#"))
        out = {}
        for row in rows:
            out.setdefault(row["acid"], []).append(row)
        return out


def ion(base, charge):
    return base if charge == 0 else f"{base}{charge:+d}"


def database():
    """A database of water, sodium, chloride and our acids, without activity parameters: Davies for every ion."""
    master = ["SOLUTION_MASTER_SPECIES", "H H+ -1 H 1.008", "H(1) H+ -1 0", "E e- 1 0 0", "O H2O 0 O 16", "O(-2) H2O 0 0",
              "Alkalinity Na+ 0 1 1", "Na Na+ 0 Na 22.99", "Cl Cl- 0 Cl 35.45"]
    species = ["SOLUTION_SPECIES", "H+ = H+", "log_k 0", "e- = e-", "log_k 0", "H2O = H2O", "log_k 0", "Na+ = Na+", "log_k 0", "Cl- = Cl-", "log_k 0",
               "H2O = OH- + H+", "-analytic 293.29227 0.1360833 -10576.913 -123.73158 0 -6.996455e-5"]
    # Gases that PHREEQC insists on; nothing here forms them.
    species += ["2H+ + 2e- = H2", "log_k -3.15", "2H2O = O2 + 4H+ + 4e-", "log_k -86.08"]
    ln10, gas, standard = math.log(10.0), 8.314462618, 298.15
    for acid, rows in steps().items():
        if acid not in ELEMENTS:
            continue
        element = ELEMENTS[acid]
        bare = int(rows[0]["charge"]) - len(rows)
        base = ion(element, bare)
        master.append(f"{element} {base} 0 100 100")
        species += [f"{base} = {base}", "log_k 0"] + (["-gamma 0 0"] if bare == 0 else [])
        total = [0.0, 0.0, 0.0]
        for protons, row in enumerate(reversed(rows), 1):
            pk, enthalpy, heat = float(row["pk"]), 1000 * float(row["enthalpy"]), float(row["heat_capacity"])
            # The same law of temperature in PHREEQC's form a1 + a2 T + a3/T + a4 log10 T.
            total[0] += pk - enthalpy / (gas * ln10 * standard) + heat / (gas * ln10) * (1 + math.log(standard))
            total[1] += (enthalpy - heat * standard) / (gas * ln10)
            total[2] -= heat / gas
            many = protons if protons > 1 else ""
            species += [f"{many}H+ + {base} = {ion(f'H{many}{element}', bare + protons)}"]
            species += [f"-analytic {total[0]:.10f} 0 {total[1]:.6f} {total[2]:.8f} 0"]
            if bare + protons == 0:
                # PHREEQC's rule of thumb for uncharged forms, 10^(0.1 I), is switched off: the solver leaves them at 1.
                species.append("-gamma 0 0")
    return "\n".join(master + species) + "\nEND\n"


def solve(program, temperature, acids, sodium, chloride, names):
    lines = ["SOLUTION 1", f"temp {temperature}", "units mol/kgw", "pH 7 charge", "-water 1"]
    lines += [f"{names[acid]} {amount}" for acid, amount in acids.items()]
    lines += [f"Na {sodium}" if sodium else "", f"Cl {chloride}" if chloride else ""]
    lines += ["SELECTED_OUTPUT", "-reset false", "-pH true", "-ionic_strength true", "END"]
    program.ip.run_string("\n".join(lines))
    row = program.ip.get_selected_output_array()[-1]
    return float(row[0]), float(row[1])


def main():
    with tempfile.TemporaryDirectory() as folder:
        with open(os.path.join(folder, "davies.dat"), "w") as file:
            file.write(database())
        davies = PhreeqPython(database="davies.dat", database_directory=pathlib.Path(folder))
        own = PhreeqPython(database="phreeqc.dat")
        print(f"# pH and ionic strength by PHREEQC, package phreeqpython {version('phreeqpython')}; made by phreeqc.py, which says what the columns are.")
        print("# contents: mol/kg of each acid in all its forms, then sodium and chloride. A dash: its own database does not know the acids.")
        print("case,temperature,contents,sodium,chloride,davies_ph,davies_ionic_strength,own_ph")
        for name, temperature, acids, sodium, chloride in CASES:
            ph, salt = solve(davies, temperature, acids, sodium, chloride, ELEMENTS)
            second = "-"
            if all(acid in OWN for acid in acids):
                second = f"{solve(own, temperature, acids, sodium, chloride, OWN)[0]:.4f}"
            contents = " ".join(f"{acid}:{amount}" for acid, amount in acids.items())
            print(f"{name},{temperature},{contents},{sodium},{chloride},{ph:.4f},{salt:.5f},{second}")


if __name__ == "__main__":
    main()
