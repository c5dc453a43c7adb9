package senml

import (
	"encoding/hex"
	"math"
	"testing"
	"time"
)

// The examples of RFC 8428, sections 5.1.2 to 5.1.4 and 6, held against its
// resolved records (section 5.1.4). They name other things than a softener's
// signals, so they are checked after resolution, before meaning.

// exampleMultiple is the second example of section 5.1.2, in JSON.
const exampleMultiple = `[
  {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
   "bu":"A","bver":5,
   "n":"voltage","u":"V","v":120.1},
  {"n":"current","t":-5,"v":1.2},
  {"n":"current","t":-4,"v":1.3},
  {"n":"current","t":-3,"v":1.4},
  {"n":"current","t":-2,"v":1.5},
  {"n":"current","t":-1,"v":1.6},
  {"n":"current","v":1.7}
]`

// exampleCBOR is the same pack in CBOR, section 6.
const exampleCBOR = "87a721781b75726e3a6465763a6f773a3130653230373361303130383030363a" +
	"22fb41d303a15b00106223614120050067766f6c746167650161560" + "2fb405e066666666666" +
	"a3006763757272656e74062402fb3ff3333333333333" +
	"a3006763757272656e74062302fb3ff4cccccccccccd" +
	"a3006763757272656e74062202fb3ff6666666666666" +
	"a3006763757272656e74062102f93e00" +
	"a3006763757272656e74062002fb3ff999999999999a" +
	"a3006763757272656e74060002fb3ffb333333333333"

// exampleTracker is that of section 5.1.3, with units that change.
const exampleTracker = `[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
  {"u":"lon","v":24.30621},{"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},
  {"u":"lat","t":60,"v":60.07965},{"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},
  {"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]`

type want struct {
	name, unit  string
	time, value float64
}

func resolveAll(t *testing.T, d *Decoder) []want {
	t.Helper()
	var b base
	var out []want
	for i := range d.records {
		if err := b.take(&d.records[i]); err != nil {
			t.Fatal(err)
		}
		r := b.resolve(&d.records[i])
		out = append(out, want{string(r.prefix) + string(r.suffix), string(r.unit), r.time, r.value})
	}
	return out
}

func expectResolved(t *testing.T, got, wants []want) {
	t.Helper()
	if len(got) != len(wants) {
		t.Fatalf("%d records, want %d", len(got), len(wants))
	}
	for i, w := range wants {
		if got[i] != w {
			t.Errorf("record %d is %v, want %v", i, got[i], w)
		}
	}
}

func TestExampleMultipleDatapoints(t *testing.T) {
	const at, current = 1276020076.001, "urn:dev:ow:10e2073a0108006:current"
	wants := []want{
		{"urn:dev:ow:10e2073a0108006:voltage", "V", at, 120.1},
		{current, "A", at - 5, 1.2}, {current, "A", at - 4, 1.3}, {current, "A", at - 3, 1.4},
		{current, "A", at - 2, 1.5}, {current, "A", at - 1, 1.6}, {current, "A", at, 1.7},
	}
	var d Decoder
	if err := d.readJSON([]byte(exampleMultiple)); err != nil {
		t.Fatal(err)
	}
	expectResolved(t, resolveAll(t, &d), wants)

	data, err := hex.DecodeString(exampleCBOR)
	if err != nil {
		t.Fatal(err)
	}
	d.reset()
	if err := d.readCBOR(data); err != nil {
		t.Fatal(err)
	}
	expectResolved(t, resolveAll(t, &d), wants)
}

func TestExampleTracker(t *testing.T) {
	const name, at = "urn:dev:ow:10e2073a01080063", 1320067464.0
	var d Decoder
	if err := d.readJSON([]byte(exampleTracker)); err != nil {
		t.Fatal(err)
	}
	expectResolved(t, resolveAll(t, &d), []want{
		{name, "%RH", at, 20}, {name, "lon", at, 24.30621}, {name, "lat", at, 60.07965},
		{name, "%RH", at + 60, 20.3}, {name, "lon", at + 60, 24.30622}, {name, "lat", at + 60, 60.07965},
		{name, "%RH", at + 120, 20.7}, {name, "lon", at + 120, 24.30623}, {name, "lat", at + 120, 60.07966},
		{name, "%EL", at + 150, 98},
		{name, "%RH", at + 180, 21.2}, {name, "lon", at + 180, 24.30628}, {name, "lat", at + 180, 60.07967},
	})
}

func TestExampleDataTypes(t *testing.T) {
	// Section 5.1.5: text, truth and data beside a number.
	pack, err := new(Decoder).JSON([]byte(`[
	  {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
	  {"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]`), time.Unix(1.7e9, 0))
	if err != nil || len(pack.Readings) != 0 || len(pack.Bad) != 4 {
		t.Fatalf("%v %v, want four records that are none of ours", pack, err)
	}
	for _, bad := range pack.Bad {
		if bad.Reason != BadName {
			t.Errorf("%v: reason %s, want %s", bad, bad.Reason, BadName)
		}
	}
}

func TestNumbersInCBOR(t *testing.T) {
	// Numbers in each form that RFC 8428 section 6 allows; the encodings are
	// those of RFC 8949, appendix A, but for the last, which is the decimal
	// fraction of its section 3.4.4.
	for encoded, want := range map[string]float64{
		"00": 0, "17": 23, "1864": 100, "1b000000e8d4a51000": 1000000000000, "20": -1, "3903e7": -1000,
		"c249010000000000000000": 18446744073709551616, "f93e00": 1.5, "fa47c35000": 100000, "fb3ff199999999999a": 1.1,
		"f97c00": math.Inf(1), "c48221196ab3": 273.15,
	} {
		data, err := hex.DecodeString(encoded)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := numberCBOR(data); !ok || got != want {
			t.Errorf("%s is %v %v, want %v", encoded, got, ok, want)
		}
	}
}
