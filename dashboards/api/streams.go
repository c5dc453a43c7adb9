package api

import (
	"context"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/sse"

	"brinebell/detect"
	"brinebell/detect/care"
)

const (
	// streamTime is the longest that a stream lasts.
	streamTime = 30 * time.Minute
	// beatEvery is how often a quiet stream says that it is there, so that
	// proxies let it be.
	beatEvery = 20 * time.Second
	// checkTime is how long a sensor's check waits for the tap, and checkEvery
	// how often it looks.
	checkTime, checkEvery = 10 * time.Minute, time.Second
)

// beat says that the stream is there.
type beat struct {
	Time time.Time `json:"time"`
}

func (a *API) registerStreams() {
	sse.Register(a.huma, op("GET", "/alerts/live", "live-alerts", "Alerts as they are raised, change and end; those that stand first", 200),
		map[string]any{"alert": alertView{}, "beat": beat{}}, a.liveAlerts)
	sse.Register(a.huma, op("GET", "/homes/{home}/sensor-check", "check-sensors", "Open a tap: Which sensors are heard, and Which move?", 200),
		map[string]any{"check": checkView{}, "refused": notAllowed{}}, a.sensorCheck)
}

// notAllowed ends a stream before it begins; a stream's status is always 200.
type notAllowed struct {
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

func (a *API) liveAlerts(ctx context.Context, _ *struct{}, send sse.Sender) {
	ctx, cancel := context.WithTimeout(ctx, streamTime)
	defer cancel()
	changes := a.Homes.Changes(ctx)
	ticker := time.NewTicker(beatEvery)
	defer ticker.Stop()
	sent := map[string]alertView{}
	if send.Data(beat{a.Now().UTC()}) != nil || a.sendAlerts(ctx, send, sent, true) != nil {
		return
	}
	for {
		var err error
		select {
		case <-changes:
			err = a.sendAlerts(ctx, send, sent, false)
		case <-ticker.C:
			err = send.Data(beat{a.Now().UTC()})
		case <-a.done:
			return
		case <-ctx.Done():
			return
		}
		if err != nil {
			return
		}
	}
}

// sendAlerts sends the alerts that one may see and that are not as they were
// sent; at first those that stand.
func (a *API) sendAlerts(ctx context.Context, send sse.Sender, sent map[string]alertView, first bool) error {
	homes, err := a.visible(ctx, care.SeeLife)
	if err != nil {
		return err
	}
	see := map[string]bool{}
	for _, h := range homes {
		see[h.ID] = true
	}
	all, err := a.Homes.Alerts(ctx, "")
	if err != nil {
		return a.fail(err, "home")
	}
	for _, one := range all {
		v := viewOfAlert(one)
		if !see[one.Home] || reflect.DeepEqual(sent[v.Alert], v) {
			continue
		}
		sent[v.Alert] = v
		if first && !one.Open() {
			continue
		}
		if err := send.Data(v); err != nil {
			return err
		}
	}
	return nil
}

// checkView is how a check stands.
type checkView struct {
	Sensors []checkedSensor `json:"sensors" nullable:"false"`
	Done    bool            `json:"done" doc:"the time for it is over"`
}

// checkedSensor is what a check has seen of a signal.
type checkedSensor struct {
	SignalView
	State string `json:"state" enum:"silent,heard,moved" doc:"silent: no reading since the check began; heard: one, with the same value; moved: with another"`
}

func (a *API) sensorCheck(ctx context.Context, in *HomePath, send sse.Sender) {
	if _, err := a.at(ctx, in.Home, care.CheckSensor); err != nil {
		status, _ := err.(huma.StatusError)
		_ = send.Data(notAllowed{status.GetStatus(), err.Error()}) // then it ends, told or not
		return
	}
	ctx, cancel := context.WithTimeout(ctx, checkTime)
	defer cancel()
	ticker := time.NewTicker(checkEvery)
	defer ticker.Stop()
	check := &check{began: map[detect.Signal]Value{}, state: map[detect.Signal]string{}}
	for begun := false; ; begun = true {
		latest, err := a.Homes.Latest(ctx, in.Home)
		if err == nil && (check.look(latest) || !begun) {
			err = send.Data(checkView{Sensors: check.sensors(latest)})
		}
		if err != nil {
			return
		}
		select {
		case <-ticker.C:
		case <-a.done:
			return
		case <-ctx.Done():
			_ = send.Data(checkView{Sensors: check.sensors(latest), Done: true}) // the client may have gone
			return
		}
	}
}

// check is what has been seen since a check began.
type check struct {
	began map[detect.Signal]Value // the newest reading at its beginning
	begun bool
	state map[detect.Signal]string
}

// look notes what is new, and says whether anything is.
func (c *check) look(latest map[detect.Signal]Value) (news bool) {
	for s, v := range latest {
		before, known := c.began[s]
		if !c.begun {
			c.began[s] = v
			continue
		}
		state := c.state[s]
		switch {
		case !known || v.Time.After(before.Time) && v.Value != before.Value:
			state = "moved" // a sensor that was never heard before has come to life
		case v.Time.After(before.Time) && state == "":
			state = "heard"
		}
		if state != c.state[s] {
			c.state[s], news = state, true
		}
	}
	c.begun = true
	return news
}

func (c *check) sensors(latest map[detect.Signal]Value) []checkedSensor {
	out := []checkedSensor{}
	for _, v := range signalsOf(latest) {
		signal, err := detect.ParseSignal(v.Signal)
		if err != nil {
			continue
		}
		state := c.state[signal]
		if state == "" {
			state = "silent"
		}
		out = append(out, checkedSensor{v, state})
	}
	return out
}
