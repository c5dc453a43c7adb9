// Package corpus describes sets of simulated homes to measure detectors on, and
// plays them.
//
// A Spec is one YAML file: how many homes of what sort, what breaks in them and
// when, how they are fitted with sensors, for how long. It has two seeds. The
// homes of the training seed may be looked at and tuned on as one likes; those
// of the check seed are for the score alone, and a change made after looking at
// them makes that score worth nothing. A few corpora are shipped in
// testdata/corpora.
//
// A Mix says which home gets which faults; it can be written in a word, as in
// "each", "none", "salt_bridge:0.5" or "flapper_leak+use_grew,salt_empty".
package corpus
