// Package regeneration recognises a softener's regenerations in the minutes of
// its home, from whatever its sensors show: the drain's flow, the brine's
// level, the valve's power, the flow upstream of the resin, and the clock.
//
// # Method
//
// Two steps. A watch, a few nanoseconds a minute, tells the ordinary from what
// deserves a closer look: more water down the drain than runs there anyway, a
// level that moves beyond its noise, water that runs upstream without a stop.
// That opens an episode, whose minutes stay in a window of fixed size. When
// nothing happens any more, or far too long, the episode is judged as a whole
// by a segmental model: a left-to-right semi-Markov chain over the programmed
// phases, each with its own explicit distribution of duration and its own
// unknown flow, solved exactly by the Viterbi recursion over running sums.
//
// Why this and not a hidden Markov model run minute by minute: a phase lasts
// about as long as it is programmed to, which a plain chain cannot say, and an
// online filter with explicit durations costs its whole trellis every minute of
// the year for a cycle that comes twice a week. Why not change points alone:
// with a noisy level a phase's border shows only through its neighbours and
// through how long such a phase can last. The price is that a record is final
// only when the episode is over; until then Ongoing says what is believed.
//
// # What is assumed
//
// The programme in a profile is often the factory's. Durations and flows are
// therefore expected about it with a standard deviation of half (of the
// logarithm); each confident regeneration then teaches the home's own figures,
// about which a fifth is allowed. Any phase may be missing, the refill may come
// first or last, and the cycle may stop anywhere.
//
// # Confidence
//
// The likelihood of a chain is far too sure of itself, since what resembles a
// regeneration (a running drain, a watered garden, a sensor's jump) is not in
// it. The path only lays the witnesses out; confidence is then weighed from a
// few statements with stated odds (weigh.go): did the drain change its flow in
// order, did the level ramp down and up again, did the motor run at the
// borders, was it the hour. One steady flow down the drain alone never makes a
// confident regeneration.
package regeneration
