// Package sensor turns what really flows and stands in a home that does not
// exist into what cheap sensors say about it.
//
// A Device is one thing with a clock, a battery and a radio: the counter on the
// pipes, the probe in the brine tank, the plug behind the valve. It carries
// channels, one for each signal. A channel measures badly in its own way: a
// pulse meter stands still below its starting flow and shows whole pulses
// only, a level wanders with the temperature and is read to the millimetre. The
// device then adds what becomes of the reading on its way: a wrong clock, an
// outage after which a day's readings come at once, a message sent twice.
//
// A Sample therefore has two times: when the device says it was measured, and
// when it arrived. Nothing is random but what the seed gives, and once a
// device has grown its buffers it allocates nothing.
package sensor
