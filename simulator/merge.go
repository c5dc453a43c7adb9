package simulator

import (
	"time"

	"brinebell/detect"
	"brinebell/simulator/sensor"
)

// merge hands out the samples of many homes in order of arrival. It is a binary
// heap of homes by their next sample, ties by the homes' order; a home at the
// top gives all its samples of that instant at once.
type merge struct {
	ids  []string
	heap []head
}

type head struct {
	at   int64
	home int
	next int // in the home's samples
}

func newMerge(homes []*Home) *merge {
	m := &merge{heap: make([]head, 0, len(homes))}
	for _, h := range homes {
		m.ids = append(m.ids, h.profile.ID)
	}
	return m
}

func (m *merge) less(a, b head) bool {
	if a.at != b.at {
		return a.at < b.at
	}
	return a.home < b.home
}

// give hands out one block.
func (m *merge) give(block [][]sensor.Sample, to func(Arrival) error) error {
	m.heap = m.heap[:0]
	for i, s := range block {
		if len(s) > 0 {
			m.heap = append(m.heap, head{s[0].Arrived, i, 0})
		}
	}
	for i := len(m.heap)/2 - 1; i >= 0; i-- {
		m.sink(i)
	}
	for len(m.heap) > 0 {
		if err := m.top(block, to); err != nil {
			return err
		}
	}
	return nil
}

// top hands out the first home's samples of its instant.
func (m *merge) top(block [][]sensor.Sample, to func(Arrival) error) error {
	h := &m.heap[0]
	samples := block[h.home]
	arrived := time.UnixMilli(h.at).UTC()
	for ; h.next < len(samples) && samples[h.next].Arrived == h.at; h.next++ {
		s := &samples[h.next]
		measured := arrived
		if s.Measured != h.at {
			measured = time.UnixMilli(s.Measured).UTC()
		}
		a := Arrival{detect.Reading{Home: m.ids[h.home], Signal: s.Signal, Time: measured, Value: s.Value}, arrived}
		if err := to(a); err != nil {
			return err
		}
	}
	if h.next < len(samples) {
		h.at = samples[h.next].Arrived
	} else {
		m.heap[0] = m.heap[len(m.heap)-1]
		m.heap = m.heap[:len(m.heap)-1]
	}
	m.sink(0)
	return nil
}

func (m *merge) sink(i int) {
	for {
		c := 2*i + 1
		if c >= len(m.heap) {
			return
		}
		if c+1 < len(m.heap) && m.less(m.heap[c+1], m.heap[c]) {
			c++
		}
		if !m.less(m.heap[c], m.heap[i]) {
			return
		}
		m.heap[i], m.heap[c] = m.heap[c], m.heap[i]
		i = c
	}
}
