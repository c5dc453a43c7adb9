package fleet_test

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/fleet"
)

func TestATableOfHomes(t *testing.T) {
	const text = "\xef\xbb\xbfid,name,timezone,firm,area,devices,hardness,capacity,resin,inlet_pulse,service_position,service_pulse,regeneration_time\r\n" +
		"mill-1,\"Mill Lane 1, rear\",Europe/Dublin,north,harbour,meter level,17 gpg,20000 grains,1 ft3,0.1 L,downstream,1 L,02:30\r\n" +
		"mill-2,,Europe/Dublin,,,,,,,,,,\r\n"
	rows, bad := fleet.Read(strings.NewReader(text))
	if len(bad) > 0 || len(rows) != 2 {
		t.Fatal(rows, bad)
	}
	a := rows[0]
	if a.Line != 2 || a.Home.Name != "Mill Lane 1, rear" || a.Firm != "north" || a.Area != "harbour" || !slices.Equal(a.Devices, []string{"meter", "level"}) ||
		a.Home.Meters.Inlet.Pulse != 0.1 || !a.Home.Meters.Service.Downstream || a.Home.Meters.Drain != nil {
		t.Errorf("%+v", a)
	}
	// 17 gpg is 291 mg/L as CaCO3: 17.118 mg/L to the grain (USGS, Hardness of Water).
	if h := a.Home.Water.Hardness; h < 290.9 || h > 291.1 {
		t.Errorf("hardness %v", h)
	}
	if again, err := detect.ReadHome("again", a.Profile); err != nil || again.Water != a.Home.Water || again.ID != "mill-1" {
		t.Errorf("%+v %v", again, err)
	}
	if want := detect.DefaultHome("mill-2", rows[1].Home.Location); rows[1].Home.BrineTank != want.BrineTank || rows[1].Home.Softener.Resin != want.Softener.Resin {
		t.Errorf("empty cells are not left at their defaults: %+v", rows[1].Home)
	}
}

// TestAllThatIsWrongIsSaid at once, by line and column.
func TestAllThatIsWrongIsSaid(t *testing.T) {
	const text = `id,timezone,hardness,resin,control,units,tank_well,tank_diameter
mill-1,Europe/Dublin,300 mg/L,28 L,timed,metric,,
Mill 2,Europe/Atlantis,hard,28 kg,sometimes,imperial,,
,Europe/Dublin,,,,,,
mill-1,Europe/Dublin,,,,,,
mill-5,Europe/Dublin,9999999 mg/L,,,,500 mm,400 mm
mill-6,Europe/Dublin
mill-7,"Europe/Dublin
mill-8,Europe/Dublin,,,,,,
`
	rows, bad := fleet.Read(strings.NewReader(text))
	if len(rows) != 1 || rows[0].Home.ID != "mill-1" {
		t.Errorf("%v", rows)
	}
	got := make([]string, len(bad))
	for i, b := range bad {
		got[i] = fmt.Sprintf("%d %s", b.Line, b.Column)
	}
	for _, want := range []string{"3 id", "3 timezone", "3 hardness", "3 resin", "3 control", "3 units", "4 id", "5 id", "6 hardness", "6 tank_well", "7 "} {
		if !slices.Contains(got, want) {
			t.Errorf("nothing said of %s: %v", want, bad)
		}
	}
	if last := bad[len(bad)-1]; last.Line < 8 || !strings.Contains(last.Error(), "line ") {
		t.Errorf("the open quote: %v", last)
	}
	for _, b := range bad {
		if b.Why == "" || strings.Contains(b.Why, "yaml") || strings.Contains(b.Error(), "::") {
			t.Errorf("%v", b)
		}
	}
}

func TestHeaders(t *testing.T) {
	for text, want := range map[string]string{
		"": "name the columns", "id\n": "timezone: missing", "timezone\n": "id: missing", "id,timezone,colour\n": "colour: no such column", "id,id,timezone\n": "id: given twice",
	} {
		rows, bad := fleet.Read(strings.NewReader(text))
		if len(rows) != 0 || len(bad) == 0 || !strings.Contains(bad[0].Error(), want) {
			t.Errorf("%q: %v", text, bad)
		}
	}
	if rows, bad := fleet.Read(strings.NewReader(fleet.Header())); len(rows)+len(bad) != 0 {
		t.Error(rows, bad)
	}
	for _, c := range fleet.Columns() {
		if c.Says == "" {
			t.Errorf("column %s says nothing", c.Name)
		}
	}
}

func TestTooMany(t *testing.T) {
	var b strings.Builder
	b.WriteString("id,timezone\n")
	for i := range fleet.MaxRows + 5 {
		fmt.Fprintf(&b, "h-%d,UTC\n", i)
	}
	rows, bad := fleet.Read(strings.NewReader(b.String()))
	if len(rows) != fleet.MaxRows || len(bad) != 1 || bad[0].Line != fleet.MaxRows+2 {
		t.Error(len(rows), bad)
	}
}

// TestAnyTable: whatever the cells, each row is a home or has a reason, and what
// is a home is read again the same.
func TestAnyTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		w := csv.NewWriter(&b)
		_ = w.Write([]string{"id", "timezone", "name", "hardness", "firm"})
		n := rapid.IntRange(0, 5).Draw(t, "rows")
		for i := range n {
			_ = w.Write([]string{fmt.Sprint("h-", i), rapid.SampledFrom([]string{"UTC", "Europe/Dublin", "x"}).Draw(t, "zone"),
				rapid.StringN(0, 12, -1).Draw(t, "name"), rapid.SampledFrom([]string{"", "300 mg/L", "x", "1e9 gpg", "{a: b}", "*x", "&y"}).Draw(t, "hardness"), rapid.String().Draw(t, "firm")})
		}
		w.Flush()
		rows, bad := fleet.Read(strings.NewReader(b.String()))
		faulty := map[int]bool{}
		for _, x := range bad {
			faulty[x.Line] = true
		}
		if len(rows)+len(faulty) != n {
			t.Fatalf("%d homes and %d faulty lines of %d\n%s\n%v", len(rows), len(faulty), n, b.String(), bad)
		}
		for _, r := range rows {
			if again, err := detect.ReadHome("again", r.Profile); err != nil || again.Name != r.Home.Name {
				t.Fatal(err)
			}
		}
	})
}
