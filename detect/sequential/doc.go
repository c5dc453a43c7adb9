// Package sequential holds streaming tests: each takes one observation at a
// time, keeps a few numbers and says when the stream has changed.
//
//   - CUSUM and TwoSided are the fastest for one shift that is known beforehand.
//   - Poisson is the same for counts.
//   - ShiryaevRoberts covers a range of shifts at once, at a few percent more
//     delay than a CUSUM made for each.
//   - EWMA smooths, and shows the present mean beside its limits.
//   - Moments is the running mean and variance by which a stream is brought to
//     the standard deviations that the tests count in.
//
// What a test costs is its run length in control, the mean number of
// observations to a false alarm; what it is worth is the delay after a change.
// Siegmund, ShiryaevRobertsFor and Least say both beforehand. The fields of
// every test are exported, so that a snapshot keeps its state; the zero value of
// the state part is a fresh start.
package sequential
