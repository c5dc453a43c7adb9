// Package finding holds the detectors: one file each, one shape. A detector
// looks at every minute of one home and says when what it watches for stands
// and when it has gone. What it needs, the statistic, the false-alarm rate it
// is set for and the smallest fault it can see stand in the comment at the head
// of its type.
package finding
