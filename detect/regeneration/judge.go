package regeneration

// believed is the least confidence with which a regeneration is put on record.
const believed = 0.5

// templatePrior is what it costs, in nats, to read the cycle with its refill at
// the other end than the profile says.
const templatePrior = 8.0

// finish judges the episode and closes it. With running set its end may lie
// beyond the scene.
func (r *Recogniser) finish(running bool) *Record {
	c := r.scene(r.Episode.From, r.Watch.Running)
	p, t := r.explain(&c, running)
	w := r.weigh(&c, &p, &t)
	if from, flow, ok := r.secondHearing(); ok && w.confidence() < believed {
		c = r.scene(from, flow)
		p, t = r.explain(&c, running)
		w = r.weigh(&c, &p, &t)
	}
	r.close(running)
	if w.confidence() < believed {
		return nil
	}
	rec := r.measure(&c, &p, &t, w)
	r.Last = c.from + int64(p.end())
	r.learn(&c, &p, rec)
	return rec
}

// secondHearing says from when on, and over which running flow, an episode is
// to be judged again: its first steady flow may have been a drain that began to
// run, and the regeneration came on top of it.
func (r *Recogniser) secondHearing() (from int64, flow float64, ok bool) {
	e := &r.Episode
	if !e.DrainSeen || e.Plateaus < 2 || e.First.N < lead {
		return 0, 0, false
	}
	return e.First.Since + 2, r.Watch.Running + e.First.Mean, true
}

// close ends the episode. A drain that still runs is from now on ordinary.
func (r *Recogniser) close(running bool) {
	w := &r.Watch
	if running && w.DrainNow == w.DrainNow {
		w.Running = w.DrainNow
	}
	if r.Episode.Cue == byFlow && running {
		if least := r.Past.least(&r.Past.Up, r.Past.Next-60, r.Past.Next, flowStep); least == least {
			w.UpLeast = least
		}
	}
	// What has been judged would open the next episode until it has left the
	// level's far view.
	r.Hold = r.Past.Next + levelFarEnd
	r.Episode = Episode{}
}

// explain finds the best path under either order of the refill.
func (r *Recogniser) explain(c *scene, running bool) (path, template) {
	early := r.earlyRefill()
	t := newTemplate(&r.home.Softener, &r.Habit, early)
	if !c.hasLevel && !c.hasUp {
		t.dropRefill() // which nothing here could show
		return align(c, &t, running), t
	}
	p := align(c, &t, running)
	if r.Habit.EarlyN >= learntEnough {
		return p, t
	}
	other := newTemplate(&r.home.Softener, &r.Habit, !early)
	if q := align(c, &other, running); q.score-templatePrior > p.score {
		return q, other
	}
	return p, t
}
