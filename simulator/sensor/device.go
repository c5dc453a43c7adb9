package sensor

import (
	"math/rand/v2"
	"time"

	"brinebell/detect"
)

// Device is one thing with a clock, a battery and a radio.
type Device struct {
	Name     string
	Channels []Channel
	Link     Link
	Clock    Clock
	Jitter   time.Duration // readings come up to so much later than due
	Battery  time.Duration // from full to empty; 0: it is on the mains

	r       *rand.Rand
	began   int64
	next    int64 // when a channel is due
	metered bool
	out     span // the outage at hand or the next one
	kept    []Sample
	again   []Sample // to be sent a second time
	silent  bool
	jump    int64 // ms that the clock jumped
}

type span struct{ from, to int64 }

const (
	never  = int64(1) << 62
	dayMS  = int64(24 * 3600_000)
	zoneMS = int64(3600_000)
)

// Start makes the device ready at an instant in Unix milliseconds.
func (d *Device) Start(at int64, r *rand.Rand) {
	d.r, d.began = r, at
	phase := time.Duration(r.Int64N(60)) * time.Second // devices are not in step
	for i := range d.Channels {
		c := &d.Channels[i]
		c.First += phase % max(time.Second, c.Every)
		c.start(at)
		d.metered = d.metered || c.Meter != nil
	}
	d.next = at // finds the first that is due
	d.nextOutage(at)
}

func (d *Device) nextOutage(after int64) {
	if d.Link.OutagesPer <= 0 {
		d.out = span{never, never}
		return
	}
	from := after + int64(d.r.ExpFloat64()*float64(30*dayMS)/d.Link.OutagesPer)
	d.out = span{from, from + 1 + int64(d.r.ExpFloat64()*float64(d.Link.Outage.Milliseconds()))}
}

// Step measures with all devices of a home during [from, to), in which truth
// holds, and appends what arrives to out: in order of arrival, but for what an
// outage or a repetition made late.
func Step(devices []Device, from, to int64, truth *Truth, out []Sample) []Sample {
	for {
		first := &devices[0]
		for i := 1; i < len(devices); i++ {
			if devices[i].next < first.next {
				first = &devices[i]
			}
		}
		if first.next >= to {
			break
		}
		out = first.tick(from, truth, out)
	}
	for i := range devices {
		out = devices[i].finish(from, to, truth, out)
	}
	return out
}

// tick takes the readings that are due at d.next.
func (d *Device) tick(from int64, truth *Truth, out []Sample) []Sample {
	at := d.next
	d.next = never
	for i := range d.Channels {
		c := &d.Channels[i]
		if c.next == at {
			out = d.sample(c, from, truth, out)
		}
		d.next = min(d.next, c.next)
	}
	return out
}

// finish lets the step's water through the meters and sends what is late.
func (d *Device) finish(from, to int64, truth *Truth, out []Sample) []Sample {
	if d.metered {
		for i := range d.Channels {
			if c := &d.Channels[i]; c.Meter != nil {
				c.Meter.run(truth[c.point], to-from)
			}
		}
	}
	for to > d.out.to {
		out = d.upload(out)
	}
	if len(d.again) > 0 {
		out = d.repeat(to, out)
	}
	return out
}

// sample takes the channel's reading that is due.
func (d *Device) sample(c *Channel, from int64, truth *Truth, out []Sample) []Sample {
	at := c.next
	c.due += c.every
	c.next = c.due
	if d.Jitter > 0 {
		c.next += d.r.Int64N(d.Jitter.Milliseconds())
	}
	if c.Signal == detect.Battery {
		truth[detect.Battery] = d.charge(at)
	}
	v := c.value(truth, at, max(0, at-from), d.r)
	if d.silent {
		return out
	}
	s := Sample{Arrived: at, Measured: d.Clock.stamp(at, d.began) + d.jump, Value: v, Signal: c.Signal}
	return d.send(s, out)
}

// send passes a sample on, keeps it through an outage, or loses it.
func (d *Device) send(s Sample, out []Sample) []Sample {
	for s.Arrived >= d.out.to {
		out = d.upload(out)
	}
	if s.Arrived >= d.out.from {
		return d.keep(s, out)
	}
	if d.Link.Lost > 0 && d.r.Float64() < d.Link.Lost {
		return out
	}
	if d.Link.Twice > 0 && d.r.Float64() < d.Link.Twice {
		twin := s
		twin.Arrived += 1000 + d.r.Int64N(60_000)
		d.again = append(d.again, twin)
	}
	return append(out, s)
}

func (d *Device) keep(s Sample, out []Sample) []Sample {
	if d.Link.Buffer == 0 {
		return out
	}
	if len(d.kept) == d.Link.Buffer {
		copy(d.kept, d.kept[1:])
		d.kept = d.kept[:len(d.kept)-1]
	}
	d.kept = append(d.kept, s)
	return out
}

// upload sends what was kept through an outage, newest first as often as not,
// and a tenth of it twice when the link repeats itself.
func (d *Device) upload(out []Sample) []Sample {
	backwards := d.r.Float64() < 0.5
	for i := range d.kept {
		s := d.kept[i]
		if backwards {
			s = d.kept[len(d.kept)-1-i]
		}
		s.Arrived = d.out.to + int64(i)*5
		out = append(out, s)
		if d.Link.Twice > 0 && d.r.Float64() < 0.1 {
			s.Arrived += 2000
			d.again = append(d.again, s)
		}
	}
	d.kept = d.kept[:0]
	d.nextOutage(d.out.to + zoneMS)
	return out
}

// repeat sends the twins that are due.
func (d *Device) repeat(to int64, out []Sample) []Sample {
	left := d.again[:0]
	for _, s := range d.again {
		if s.Arrived < to {
			out = append(out, s)
		} else {
			left = append(left, s)
		}
	}
	d.again = left
	return out
}

// charge is the battery's state, %. A lithium cell holds most of its voltage
// and falls at the end.
func (d *Device) charge(at int64) float64 {
	if d.Battery == 0 {
		return 100
	}
	used := float64(at-d.began) / float64(d.Battery.Milliseconds())
	if used >= 1 {
		d.silent = true
		return 0
	}
	return 100 * (1 - float64(used*used))
}
