// Package cause says what can be behind the findings at a home: how likely each
// cause is, what speaks for and against it, what people are told, and which
// check to make next.
//
// What a technician knows is in the folder table: how often each cause comes
// about (causes.yaml), and how likely each cause brings about what the detectors
// find (findings.yaml), how far it moves what regenerations and meters show
// (numbers.yaml), what people notice (symptoms.yaml), what a hardness test shows
// (hardness.yaml) and what a check shows (checks.yaml). Every row has its reason
// and its source; evidence.yaml names every piece of evidence in plain words. The
// files are read once, with every identifier and every sum checked; they can be
// read and changed without programming.
//
// A Model made of them weighs every single cause, every pair and none exactly
// (package joint), over whatever Evidence there is. What was not looked at is
// left out. Numbers that one fault moves together, a slow draw and what it leaves
// undrawn, have one severity behind them (joint.Numbers), so that they do not
// count as often as there are of them; what is usual at a home is kept by package
// trait. A finding that this home's sensors would have shown and did not speaks
// against the causes that bring it about, as far as the detector can be trusted
// and has had time.
//
// Model.Diagnose answers for people, Model.Blame shares one alert out among its
// causes, Session asks for one check after the other until a cause is found or a
// technician must come. A firm's Experience of confirmed causes moves the rates.
package cause
