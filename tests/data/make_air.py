"""Writes air.csv: properties of moist air from two general-purpose libraries.

    python -m pip install PsychroLib==2.5.0 CoolProp==8.0.0
    python make_air.py > air.csv
"""

from importlib.metadata import version

import CoolProp.CoolProp as coolprop
import psychrolib

PRESSURES_PA = [70e3, 80e3, 90e3, 101.325e3, 107e3]
TEMPERATURES_C = [-10, 0, 10, 20, 30, 40]
RELATIVE_HUMIDITIES = [0, 0.25, 0.5, 0.75, 1]

psychrolib.SetUnitSystem(psychrolib.SI)

print(f"""\
# Moist air, written by make_air.py with PsychroLib {version("PsychroLib")} and CoolProp {version("CoolProp")}.
# p_pa, t_c, rh: barometric pressure [Pa], dry-bulb temperature [C], relative humidity [-]
# rho_ideal: density, kg of moist air per m3, PsychroLib (ideal-gas mixture, Hyland and Wexler saturation pressure)
# rho_real: density, kg of moist air per m3, CoolProp HAPropsSI (real-gas mixture)
# p_sat_pa: saturation pressure of pure water or ice [Pa], CoolProp HAProps_Aux
# mu_dry, mu_moist: dynamic viscosity [Pa s] of dry air (CoolProp PropsSI, Lemmon and Jacobsen 2004) and of the moist air (HAPropsSI)
p_pa,t_c,rh,rho_ideal,rho_real,p_sat_pa,mu_dry,mu_moist""")

for p_pa in PRESSURES_PA:
    for t_c in TEMPERATURES_C:
        t_k = t_c + 273.15
        p_sat_pa = coolprop.HAProps_Aux("p_ws", t_k, p_pa, 0.0)[0]
        mu_dry = coolprop.PropsSI("V", "T", t_k, "P", p_pa, "Air")
        for rh in RELATIVE_HUMIDITIES:
            w = psychrolib.GetHumRatioFromRelHum(t_c, rh, p_pa)
            rho_ideal = psychrolib.GetMoistAirDensity(t_c, w, p_pa)
            # Vha: volume of moist air per kg of moist air.
            rho_real = 1 / coolprop.HAPropsSI("Vha", "T", t_k, "P", p_pa, "R", rh)
            mu_moist = coolprop.HAPropsSI("mu", "T", t_k, "P", p_pa, "R", rh)
            numbers = (rho_ideal, rho_real, p_sat_pa, mu_dry, mu_moist)
            print(p_pa, t_c, rh, *(f"{x:.12g}" for x in numbers), sep=",")
