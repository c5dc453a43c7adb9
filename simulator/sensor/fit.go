package sensor

import (
	"math/rand/v2"
	"time"

	"brinebell/detect"
)

// Fitting says how a home is fitted with sensors.
type Fitting struct {
	Signals  Set
	Interval time.Duration // between readings of meters, level, pressure and power
	Jitter   time.Duration // readings come up to so much later than due
	Trouble  Trouble
}

// Trouble is the everyday trouble of sensors, none of which is a fault: shares
// and rates are those of each device. The zero value is a quiet home.
type Trouble struct {
	Link
	Clock       time.Duration // clocks are up to so much off either way
	ClockDrift  float64       // and gain or lose up to so many seconds a day
	ResetsPer   float64       // totals put to nothing, per 30 days
	Wrap        float64       // L at which totals begin again; 0: never
	Aged        float64       // 0 to 1: how worn the meters are
	Temperature float64       // mm of level per degree
}

// Intervals of what changes slowly; a longer Interval holds for all.
const (
	everySalt        = 10 * time.Minute
	everyTemperature = 5 * time.Minute
	everyFloor       = time.Minute
	everyProbe       = 30 * time.Minute
	everyStrip       = 7 * 24 * time.Hour
	everyBattery     = 24 * time.Hour
)

// Spread of sound instruments, one standard deviation unless said otherwise:
// ordinary for retrofit parts of their kind. Common practice; no source.
const (
	meterGain    = 0.007 // ±1.5 % at twice this, the tolerance of a new meter
	levelNoise   = 0.8   // mm
	saltNoise    = 3     // mm
	pressureStep = 1     // kPa
	powerNoise   = 0.05  // W
	probeShare   = 0.04
	stripStep    = 17.118 // mg/L: drops of one grain a gallon
	agedStart    = 0.57   // L/min at which a worn-out meter begins to turn
)

// Fit fits a home: a counter on its pipes, a probe in its brine tank, a plug
// behind its valve, a block of probes on its pipe, a pad on its floor. Devices
// without a wanted signal are left out.
func Fit(home detect.Home, f Fitting, r *rand.Rand) []Device {
	b := builder{home: home, f: f, r: r}
	b.counter()
	b.tank()
	b.add("plug", 0, b.gauge(detect.ValvePower, Channel{Noise: powerNoise, Step: 0.1}))
	b.pipe()
	b.add("floor", 0, b.gauge(detect.FloorWet, Channel{Every: everyFloor}))
	return b.devices
}

type builder struct {
	home    detect.Home
	f       Fitting
	r       *rand.Rand
	devices []Device
}

// add keeps a device with the channels that are wanted.
func (b *builder) add(name string, battery time.Duration, channels ...Channel) {
	d := Device{Name: name, Link: b.f.Trouble.Link, Jitter: b.f.Jitter, Battery: battery}
	d.Clock.Offset = time.Duration(b.sway() * float64(b.f.Trouble.Clock)).Round(time.Millisecond)
	d.Clock.Drift = b.sway() * b.f.Trouble.ClockDrift
	for _, c := range channels {
		if b.f.Signals.Has(c.Signal) {
			d.Channels = append(d.Channels, c)
		}
	}
	if len(d.Channels) > 0 {
		b.devices = append(b.devices, d)
	}
}

// sway is between -1 and 1.
func (b *builder) sway() float64 { return 2*b.r.Float64() - 1 }

func (b *builder) gauge(s detect.Signal, c Channel) Channel {
	c.Signal, c.Every = s, max(c.Every, b.f.Interval)
	return c
}

func (b *builder) counter() {
	var cs []Channel
	for _, m := range []struct {
		total, rate detect.Signal
		profile     *detect.Meter
	}{
		{detect.InletVolume, detect.InletFlow, b.home.Meters.Inlet},
		{detect.ServiceVolume, detect.ServiceFlow, b.home.Meters.Service},
		{detect.DrainVolume, detect.DrainFlow, b.home.Meters.Drain},
	} {
		if m.profile == nil {
			continue
		}
		meter := b.meter(*m.profile)
		for _, s := range []detect.Signal{m.total, m.rate} {
			one := meter
			one.Rate = s == m.rate
			cs = append(cs, b.gauge(s, Channel{Meter: &one}))
		}
	}
	b.add("counter", 0, cs...)
}

func (b *builder) meter(p detect.Meter) Meter {
	t := b.f.Trouble
	start := p.StartingFlow + float64(t.Aged*max(0, agedStart-p.StartingFlow))
	gain := 1 + meterGain*max(-2, min(2, b.r.NormFloat64()))
	m := Meter{Pulse: p.Pulse, StartingFlow: start, Gain: gain, Wrap: t.Wrap}
	m.base = int64(b.r.Float64() * 300_000 / max(p.Pulse, resolution))
	return m
}

// batteryLife is how long a probe in a tank runs on its cell.
const batteryLife = 900 * 24 * time.Hour

func (b *builder) tank() {
	b.add("tank", batteryLife,
		b.gauge(detect.BrineLevel, Channel{Noise: levelNoise, Step: 1, Offset: 2 * b.sway(), PerK: b.sway() * b.f.Trouble.Temperature}),
		b.gauge(detect.SaltLevel, Channel{Noise: saltNoise, Step: 1, Every: everySalt}),
		b.gauge(detect.Battery, Channel{Step: 1, Every: everyBattery}))
}

func (b *builder) pipe() {
	strip := func(s detect.Signal) Channel {
		return b.gauge(s, Channel{Step: stripStep, Share: probeShare, Every: everyStrip, First: 19 * time.Hour})
	}
	b.add("pipe", 0,
		b.gauge(detect.InletPressure, Channel{Noise: 1, Step: pressureStep}),
		b.gauge(detect.OutletPressure, Channel{Noise: 1, Step: pressureStep}),
		b.gauge(detect.SoftConductivity, Channel{Share: 0.01, Step: 1, Every: everyTemperature}),
		b.gauge(detect.WaterTemperature, Channel{Noise: 0.1, Step: 0.1, Every: everyTemperature}),
		strip(detect.RawHardness),
		b.gauge(detect.ColdHardness, Channel{Share: probeShare, Noise: 2, Step: 1, Every: everyProbe}),
		b.gauge(detect.HotHardness, Channel{Share: probeShare, Noise: 2, Step: 1, Every: everyProbe}),
		b.gauge(detect.RawIron, Channel{Step: 0.1, Share: 0.1, Every: everyStrip, First: 19 * time.Hour}))
}
