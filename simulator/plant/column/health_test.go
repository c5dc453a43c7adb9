package column

import "testing"

func TestTroubleCostsCapacity(t *testing.T) {
	healthy := settledCapacity(New(Options{Resin: 28.3}, tap()), 120)
	spoil := map[string]func(*Column){
		"sites lost":   func(c *Column) { c.SetHealth(0.5, 1) },
		"slow beads":   func(c *Column) { c.SetHealth(1, 0.15) },
		"channels":     func(c *Column) { c.SetChannel(0.045) },
		"rust on both": func(c *Column) { c.SetHealth(0.8, 0.4) },
	}
	for name, f := range spoil {
		c := New(Options{Resin: 28.3}, tap())
		f(c)
		if got := settledCapacity(c, 120); got > 0.9*healthy {
			t.Errorf("%s: %.3f eq/L of %.3f", name, got, healthy)
		}
	}
}

func TestRenewedBedIsAsNew(t *testing.T) {
	c := New(Options{Resin: 28.3}, tap())
	c.SetHealth(0.3, 0.1)
	exhaust(c)
	c.SetHealth(1, 1)
	c.Renew()
	want := exhaust(New(Options{Resin: 28.3}, tap()))
	if got := exhaust(c); got < 0.99*want {
		t.Errorf("%.3f eq/L, new %.3f", got, want)
	}
}

func TestUpwardFlowMeetsTheFootFirst(t *testing.T) {
	c := New(Options{Resin: 28.3}, tap())
	c.Advance(100, 600, tap(), true)
	if c.cells[0].ca >= c.cells[len(c.cells)-1].ca {
		t.Error("backwash loaded the top")
	}
}

func BenchmarkAdvanceWater(b *testing.B) {
	c := New(Options{Resin: 28.3}, tap())
	v := 2 * c.PoreVolume()
	b.ReportAllocs()
	for b.Loop() {
		c.Advance(v, v*6, tap(), false)
	}
}

func BenchmarkAdvanceBrine(b *testing.B) {
	c := New(Options{Resin: 28.3}, tap())
	b.ReportAllocs()
	for b.Loop() {
		c.Advance(0.3, 10, Water{Total: 1.8}, false)
	}
}
