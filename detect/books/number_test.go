package books

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestNumbersInJSON(t *testing.T) {
	for n, want := range map[Number]string{0: "0", 748: "748", 747.9999906688929: "748", Number(math.Inf(1)): "null"} {
		if got, err := json.Marshal(n); err != nil || string(got) != want {
			t.Errorf("%v is written %s (%v), want %s", float64(n), got, err, want)
		}
	}
	if got, _ := json.Marshal(Unknown()); string(got) != "null" {
		t.Errorf("unknown is written %s", got)
	}
}

func TestNumbersComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := Number(rapid.Float64Range(-1e9, 1e9).Draw(t, "number"))
		text, err := json.Marshal(n)
		var back Number
		if err != nil || json.Unmarshal(text, &back) != nil || math.Abs(float64(back-n)) > 1e-6*math.Abs(float64(n)) {
			t.Fatalf("%v was written %s and came back as %v", n, text, back)
		}
	})
}
