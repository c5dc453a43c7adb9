// Package adapter understands sensors that have a topic and a payload of their
// own: by configuration, one mapping for each, from a topic to a signal.
//
//	adapters:
//	  - topic: meters/{home}/main      # or a fixed topic with home: mill-lane-4
//	    signal: inlet_volume
//	    pointer: /total                # RFC 6901; left out when the payload is a bare number
//	    time_pointer: /at              # left out when the message is as fresh as it looks
//	    unit: gal
//	    scale: 0.1                     # the meter counts tenths
//
// The value is (number * scale + offset) in the given unit, converted to the
// signal's canonical unit.
package adapter
