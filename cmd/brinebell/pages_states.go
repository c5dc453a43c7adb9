package main

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"

	"brinebell/dashboards/web"
	"brinebell/detect/finding"
)

// watchNames are the detectors of finding.Watches, whose state can be looked at.
func watchNames() []string {
	var names []string
	for field := range reflect.TypeFor[finding.Watches]().Fields() {
		names = append(names, field.Name)
	}
	return names
}

// states follows the numbers inside one detector.
type states struct {
	watch string
	byKey map[string]int // places in all
	all   []web.StateTrace
}

func newStates(watch string) *states { return &states{watch: watch, byKey: map[string]int{}} }

// look reads the detector out of an engine's snapshot of a home, of which it
// needs the part that is called Watches.
func (s *states) look(at time.Time, snapshot []byte) error {
	var home struct{ Watches finding.Watches }
	if err := gob.NewDecoder(bytes.NewReader(snapshot)).Decode(&home); err != nil {
		return fmt.Errorf("state of %s: %w", s.watch, err)
	}
	watch := reflect.ValueOf(home.Watches).FieldByName(s.watch)
	if !watch.IsValid() {
		return unfit(fmt.Sprintf("There is no detector %q.", s.watch))
	}
	s.walk("", watch, at)
	return nil
}

// The bounds of what is shown of a detector: how many numbers, and how many
// entries of a list.
const (
	mostStates = 160
	mostListed = 12
)

// walk adds every number below v under its path of names. Times count as hours
// before the present, true as 1.
func (s *states) walk(name string, v reflect.Value, at time.Time) {
	switch v.Kind() {
	case reflect.Float32, reflect.Float64:
		s.add(name, v.Float(), at)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		s.add(name, float64(v.Int()), at)
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		s.add(name, float64(v.Uint()), at)
	case reflect.Bool:
		s.add(name, map[bool]float64{true: 1}[v.Bool()], at)
	case reflect.Struct:
		if t, ok := v.Interface().(time.Time); ok {
			if !t.IsZero() {
				s.add(name+" (h ago)", at.Sub(t).Hours(), at)
			}
			return
		}
		for field, value := range v.Fields() {
			if field.IsExported() {
				s.walk(joinedName(name, field.Name), value, at)
			}
		}
	case reflect.Array, reflect.Slice:
		for i := range min(v.Len(), mostListed) {
			s.walk(fmt.Sprintf("%s[%d]", name, i), v.Index(i), at)
		}
	}
}

func joinedName(above, name string) string {
	if above == "" {
		return name
	}
	return above + "." + name
}

func (s *states) add(name string, v float64, at time.Time) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	i, known := s.byKey[name]
	if !known {
		if len(s.all) == mostStates {
			return
		}
		i = len(s.all)
		s.byKey[name], s.all = i, append(s.all, web.StateTrace{Name: name})
	}
	s.all[i].Points = append(s.all[i].Points, web.Point{Time: at, Min: v, Mean: v, Max: v})
}

// traces are the numbers, those that move most often first.
func (s *states) traces() []web.StateTrace {
	moves := func(t web.StateTrace) (n int) {
		for i := 1; i < len(t.Points); i++ {
			if t.Points[i].Mean != t.Points[i-1].Mean {
				n++
			}
		}
		return n
	}
	slices.SortStableFunc(s.all, func(a, b web.StateTrace) int { return moves(b) - moves(a) })
	return s.all
}
