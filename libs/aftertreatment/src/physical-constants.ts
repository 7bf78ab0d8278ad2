/** Constants that several of the formulas share. */

/** Gas constant, J/(mol K). Source: CODATA, rounded to the four digits that the domain notes reckon with. */
export const gasConstantJPerMolK = 8.314;
/** 0 degC in K. Source: definition. */
export const zeroCelsiusK = 273.15;

/** Molar masses, g/mol. Source: own arithmetic from standard atomic masses (H 1.008, C 12.011, N 14.007, O 15.999). */
export const ureaGPerMol = 60.055;
export const ammoniaGPerMol = 17.031;
export const no2GPerMol = 46.0055;
export const carbonGPerMol = 12.011;
/** Molar mass of wet diesel exhaust, g/mol. Source: domain notes, section 4.2 (own arithmetic with 28.8). */
export const exhaustGPerMol = 28.8;

/** Diesel fuel: lower heating value, kJ/kg, and density, kg/L. Source: domain notes, sections 4.2 and 5.1; usual values. */
export const fuelHeatKJPerKg = 42_800;
export const fuelDensityKgPerL = 0.835;
/** DEF: urea by mass, and density at 20 degC, kg/L. Source: ISO 22241-1:2019 (target 32.5 %; middle of 1087-1093 kg/m3). */
export const defUreaRatio = 0.325;
export const defDensityKgPerL = 1.09;
