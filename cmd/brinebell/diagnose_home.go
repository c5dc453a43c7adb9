package main

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/recording"
	"brinebell/collector/replay"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/cause"
)

// site is what a home's recordings bring to a diagnosis.
type site struct {
	home   detect.Home
	alerts []detect.Alert // open at the end of the recordings
	books  books.Books
	has    map[detect.Signal]bool // signals the home sends; flow points by rate or total
	end    time.Time
	raw    float64 // hardness that somebody measured before the softener, mg/L; 0: nobody did
}

// visit replays a home's recordings.
func visit(c *cobra.Command, s streams, f diagnoseFlags, args []string) (*site, error) {
	if f.homes == "" || len(args) < 2 {
		return nil, usage(c, errors.New("a home needs --homes with its profile, and its recordings"))
	}
	homes, err := readHomes(f.homes, noteTo(s.err))
	if err != nil {
		return nil, err
	}
	v := &site{has: map[detect.Signal]bool{}}
	for _, h := range homes {
		if h.ID == args[0] {
			v.home = h
		}
	}
	if v.home.ID == "" {
		return nil, inputError{fmt.Errorf("%s has no home %q", f.homes, args[0])}
	}
	if err := v.look(args[1:]); err != nil {
		return nil, asInputError(err)
	}
	line := newMeter(s.err)
	result, err := replay.Run(c.Context(), replay.Options{Homes: []detect.Home{v.home}, Files: args[1:], Progress: showReplay(line)})
	line.clear()
	if err != nil {
		return nil, asInputError(err)
	}
	v.books = result.Books[v.home.ID]
	for _, a := range result.Alerts {
		if a.Home == v.home.ID && a.Open() {
			v.alerts = append(v.alerts, a)
		}
	}
	return v, nil
}

// look reads through the recordings for what the home sends.
func (v *site) look(files []string) error {
	for _, name := range files {
		if name == recording.Stdin {
			return inputError{errors.New("a diagnosis reads recordings twice: name files, not the standard input")}
		}
		if err := v.lookInto(name); err != nil {
			return err
		}
	}
	if v.end.IsZero() {
		return inputError{fmt.Errorf("the recordings hold no reading of %q", v.home.ID)}
	}
	return nil
}

func (v *site) lookInto(name string) error {
	r, err := recording.Open(name, recording.Options{})
	if err != nil {
		return err
	}
	defer r.Close()
	for {
		reading, err := r.Next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		case reading.Home != v.home.ID || reading.Check() != nil:
			continue
		}
		signal := reading.Signal
		if point, flow := signal.FlowPoint(); flow {
			signal = point
		}
		v.has[signal] = true
		if reading.Time.After(v.end) {
			v.end = reading.Time
		}
	}
}

// add puts what the home shows into the evidence.
func (v *site) add(e *cause.Evidence) {
	if raw := v.books.Raw; raw.HardnessMeasured && e.Hardness[detect.RawHardness] == 0 {
		e.Hardness = maps.Clone(e.Hardness)
		if e.Hardness == nil {
			e.Hardness = map[detect.Signal]float64{}
		}
		e.Hardness[detect.RawHardness] = float64(raw.Hardness)
	}
	v.raw = e.Hardness[detect.RawHardness]
	*e = e.WithProfile(v.home.Water)
	e.Visible = cause.Standard().Visible(func(s detect.Signal) bool {
		if point, flow := s.FlowPoint(); flow {
			s = point
		}
		return v.has[s]
	})
	for _, a := range v.alerts {
		e.Findings = append(e.Findings, cause.Finding{Kind: a.Kind, Details: a.Evidence})
		e.Age = max(e.Age, v.end.Sub(a.Onset))
	}
}
