package senml

import (
	"encoding/hex"
	"testing"

	"github.com/fxamacker/cbor/v2"
)

// check says what must hold of every pack that was not refused.
func check(t *testing.T, d *Decoder, pack Pack, err error) {
	t.Helper()
	if err != nil {
		if len(pack.Readings)+len(pack.Bad) > 0 {
			t.Fatal("a refused pack has content")
		}
		return
	}
	faulty := map[int]bool{}
	for _, b := range pack.Bad {
		if b.Reason == "" || b.Detail == "" || b.Index < 0 || b.Index >= len(d.records) {
			t.Fatalf("bad record %+v of %d", b, len(d.records))
		}
		faulty[b.Index] = true
	}
	for _, r := range pack.Readings {
		if err := r.Check(); err != nil || r.Home == "" {
			t.Fatalf("%v: %v", r, err)
		}
	}
	if len(pack.Readings) < len(d.records)-len(faulty) {
		t.Fatalf("%d records made %d readings and %d errors", len(d.records), len(pack.Readings), len(pack.Bad))
	}
}

func FuzzJSON(f *testing.F) {
	for _, seed := range []string{exampleMultiple, exampleTracker, "", "[]", "[{}]",
		`[{"bn":"h/d/","bt":1772366400,"n":"inlet_flow","u":"l/s","v":1,"s":5,"bs":1e3},{"n":"floor_wet","vb":true},{"bv":-1,"must_":null}]`,
		`[{"n":"h\u002fd/battery","u":"%EL","v":5e0,"t":-1.5,"ut":3,"vd":"aGk"}] `} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var d Decoder
		pack, err := d.JSON(data, noon)
		check(t, &d, pack, err)
		n, again := len(pack.Readings), err
		pack, err = d.JSON(data, noon)
		if len(pack.Readings) != n || (err == nil) != (again == nil) {
			t.Fatal("the decoder remembers the last pack")
		}
	})
}

func FuzzCBOR(f *testing.F) {
	example, err := hex.DecodeString(exampleCBOR)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(example)
	for _, seed := range []any{[]any{}, []any{nil}, []any{map[int]any{-2: "h/d/", 0: "inlet_flow", 1: "l/s", 2: 1.5, 5: 7, 6: -3, 4: true}},
		[]any{map[any]any{0: "h/d/battery", 1: "%EL", 2: cbor.Tag{Number: 4, Content: []any{-2, 27315}}, "x": []int{1}, "must_": 0}}} {
		data, err := cbor.Marshal(seed)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var d Decoder
		pack, err := d.CBOR(data, noon)
		check(t, &d, pack, err)
	})
}
