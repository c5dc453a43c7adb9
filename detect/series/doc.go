// Package series turns the readings of one home into minutes: totals into
// flow (resets and wraps survive), late readings into order, silence into
// "unknown" instead of zero.
package series
