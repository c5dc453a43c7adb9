package brine

// SaturatedSaltPerLitre is the kg of sodium chloride in a litre of saturated
// brine at any household temperature (317.3 to 318.4 g/L from 0 to 40 degC,
// from the Salt Institute's solubility and the density of saturated brine).
const SaturatedSaltPerLitre = 0.3175
