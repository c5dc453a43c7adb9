// Package joint reckons with every hypothesis that a home can have: nothing
// wrong, any one cause, any two causes together. Nothing is sampled or
// approximated: with 29 causes that is 436 hypotheses, all of them weighed.
//
// What a hypothesis brings about is combined by the noisy or and its extension
// to more than two states, the noisy max (Henrion, "Practical issues in
// constructing a Bayes' belief network", 1987, and Díez, "Parameter adjustment
// in Bayes networks: the generalized noisy or-gate", 1993): each cause by
// itself, and a leak for what comes about without any of them, leads to a state;
// the worst of these states is seen.
package joint
