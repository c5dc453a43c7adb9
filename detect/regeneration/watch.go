package regeneration

import "math"

// Watch follows what is ordinary at a home: the drain's running flow, the
// least flow upstream, the level's noise, the valve's idle power. From it come
// the cheap tests that decide when a closer look is due.
type Watch struct {
	Running  float64 // drain flow in service, L/min
	UpLeast  float64 // flow upstream when no tap is open, L/min
	Noise    float64 // of a minute's level, one standard deviation, mm
	NoiseN   float64
	LastY    float64 // last known level, mm; NaN before the first
	Idle     float64 // the valve's power at rest, W
	DrainNow float64 // mean of the last three minutes, NaN when unknown
	DrainAt  int64   // last minute with a known drain flow
	LevelAt  int64
	UpAt     int64
	PowerAt  int64
	Low      int   // minutes in a row in which the drain carried less than ordinarily
	UpRun    int   // minutes in a row in which water ran upstream
	UpQuiet  int   // and in which none did
	Moved    Level // the level's latest movement
}

// Level says how the level moved of late.
type Level struct {
	Change float64 // short-term mean less the mean of a while ago, mm
	Sure   float64 // Change in standard deviations
	Recent float64 // the same over the last quarter of an hour only
	Firm   float64 // Recent in standard deviations
}

func (w *Watch) init() {
	w.LastY, w.DrainNow = math.NaN(), math.NaN()
	w.Noise, w.Idle = 2, math.NaN()
}

// The spans, in minutes, over which movement of the level is judged.
const (
	levelShort  = 5
	levelNear   = 8
	levelFar    = 30
	levelFarEnd = 45
)

// leastNoise is below any level sensor with a resolution of 1 mm or worse.
const leastNoise = 0.4

// see takes in the window's newest minute.
func (w *Watch) see(p *Window, pulse float64, open bool) {
	now := p.Next - 1
	w.seeDrain(p, now, pulse, open)
	w.seeLevel(p, now)
	w.seeUp(p, now, open)
	if v := p.at(&p.Power, now, powerStep); v == v {
		w.PowerAt = now
		if !(w.Idle <= v) {
			w.Idle = v
		}
		w.Idle += 0.001 * (v - w.Idle)
	}
}

// drainStep is how far the drain must stand above what is ordinary before it
// is looked at: above a dripping seal and above what one pulse can do.
func (w *Watch) drainStep(pulse float64) float64 { return 0.25 + 0.15*w.Running + 0.5*pulse }

// runningMemory is the time constant, in minutes, of the drain's running flow.
const runningMemory = 20

func (w *Watch) seeDrain(p *Window, now int64, pulse float64, open bool) {
	x := p.at(&p.Drain, now, flowStep)
	if x != x {
		if now-w.DrainAt > 15 {
			w.DrainNow = math.NaN()
		}
		return
	}
	w.DrainAt = now
	w.DrainNow, _ = p.mean(&p.Drain, now-2, now+1, flowStep)
	if open {
		return
	}
	if w.DrainNow >= w.Running-w.drainStep(pulse) {
		w.Low = 0
	} else if w.Low++; w.Low >= leakGone {
		w.Running = w.DrainNow
	}
	if w.DrainNow <= w.Running+w.drainStep(pulse) {
		w.Running += (x - w.Running) / runningMemory
	}
	if w.Running < flowStep/10 {
		w.Running = 0
	}
}

// leakGone is for how many minutes the drain must carry less than it ordinarily
// does for that to be over: a valve whose seals leak in service holds tight for as
// long as it refills, and the leak is back when it is done.
const leakGone = 12

// stillUp is the share of drainStep at which a drain that rose counts as not
// yet back: a slow draw over a large leak is a small step.
const stillUp = 0.4

// drainStays says whether a drain that rose still carries more than ordinarily.
func (w *Watch) drainStays(pulse float64) bool {
	return w.DrainNow > w.Running+stillUp*w.drainStep(pulse)
}

// drainUp says whether the drain carries more than it ordinarily does.
func (w *Watch) drainUp(pulse float64) bool { return w.DrainNow > w.Running+w.drainStep(pulse) }

func (w *Watch) seeLevel(p *Window, now int64) {
	y := p.at(&p.Level, now, levelStep)
	if y != y {
		return
	}
	if w.LastY == w.LastY {
		d := math.Abs(y - w.LastY)
		w.NoiseN = min(w.NoiseN+1, 300)
		// 0.8862 brings the mean difference of two normal values to their
		// standard deviation: E|a-b| = 2 sd / sqrt(pi).
		w.Noise += (min(0.8862*d, 3*w.Noise+1) - w.Noise) / (w.NoiseN + 10)
		w.Noise = max(w.Noise, leastNoise)
	}
	w.LastY, w.LevelAt = y, now
	w.Moved = w.movement(p, now)
}

func (w *Watch) movement(p *Window, now int64) Level {
	var l Level
	a, n := p.mean(&p.Level, now-levelShort+1, now+1, levelStep)
	if far, m := p.mean(&p.Level, now-levelFarEnd, now-levelFar, levelStep); n > 0 && m > 0 {
		l.Change = a - far
		l.Sure = l.Change / (w.Noise * math.Sqrt(1/float64(n)+1/float64(m)))
	}
	b, n := p.mean(&p.Level, now-levelNear+1, now+1, levelStep)
	if near, m := p.mean(&p.Level, now-2*levelNear+1, now-levelNear+1, levelStep); n > 0 && m > 0 {
		l.Recent = b - near
		l.Firm = l.Recent / (w.Noise * math.Sqrt(1/float64(n)+1/float64(m)))
	}
	return l
}

// A movement of the level counts when it is beyond both the noise and what
// temperature and sensors do in the time.
const (
	sureSigmas = 5.0
	sureMM     = 6.0
	firmSigmas = 4.5
	firmMM     = 3.0
)

func (l Level) falls() bool  { return l.Sure < -sureSigmas && l.Change < -sureMM }
func (l Level) rises() bool  { return l.Sure > sureSigmas && l.Change > sureMM }
func (l Level) moving() bool { return math.Abs(l.Firm) > firmSigmas && math.Abs(l.Recent) > firmMM }

// leastSpan is how many minutes water must never have stopped upstream for its
// least flow to count as ordinary, little by little: a leak lasts, taps do not.
const leastSpan = 60

// upOpen is the flow above the least that counts as water running, L/min.
const upOpen = 0.25

func (w *Watch) seeUp(p *Window, now int64, open bool) {
	x := p.at(&p.Up, now, flowStep)
	if x != x {
		return
	}
	since := int(min(now-w.UpAt, slowest))
	w.UpAt = now
	if x < w.UpLeast && !open {
		w.UpLeast = x
	}
	if x > w.UpLeast+upOpen {
		w.UpRun, w.UpQuiet = w.UpRun+since, 0
	} else {
		w.UpRun, w.UpQuiet = 0, w.UpQuiet+since
	}
	if !open && now%10 == 0 {
		if least := p.least(&p.Up, now-leastSpan, now+1, flowStep); least > w.UpLeast {
			w.UpLeast += 0.05 * (least - w.UpLeast)
		}
	}
}
