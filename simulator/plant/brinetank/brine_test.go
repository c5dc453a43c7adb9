package brinetank

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"brinebell/detect"
)

var nacl = BrineOf(detect.SodiumChloride)

// Solubility of sodium chloride in % by mass: Salt Institute table.
func TestSaturationAgreesWithPublishedSolubility(t *testing.T) {
	for temperature, want := range map[float64]float64{0: 26.29, 4.44: 26.33, 10: 26.36, 15.56: 26.395, 21.11: 26.45, 26.67: 26.52, 37.78: 26.68} {
		r := nacl.Saturation(temperature)
		if got := 100 * r / (1 + r); math.Abs(got-want) > 0.03 {
			t.Errorf("%v degC: %.3f %% by mass, published %.3f", temperature, got, want)
		}
	}
}

// Density of brine at 20 degC in kg/m3 by % mass: Poradnik fizykochemiczny, WNT
// 1974. The tank stands at 18 degC, worth less than 0.1 %.
func TestVolumeAgreesWithPublishedDensity(t *testing.T) {
	for percent, want := range map[float64]float64{1: 1005.3, 4: 1026.8, 8: 1055.9, 12: 1085.7, 16: 1116.2, 20: 1147.8, 24: 1180.4, 26: 1197.2} {
		got := 1000 / nacl.Volume(1-percent/100, percent/100)
		if math.Abs(got/want-1) > 0.002 {
			t.Errorf("%v %%: %.1f kg/m3, published %.1f", percent, got, want)
		}
	}
}

// One litre of water dissolves 0.359 kg and becomes 1.130 L at 20 degC, which
// makes 317.5 g/L: computed from Rogers and Pitzer, J. Phys. Chem. Ref. Data
// 11, 15 (1982).
func TestSaturatedBrine(t *testing.T) {
	salt := nacl.Saturation(20) * densityWater
	if math.Abs(salt/0.359-1) > 0.005 {
		t.Errorf("a litre of water dissolves %.4f kg", salt)
	}
	v := nacl.Volume(densityWater, salt)
	if math.Abs(v/1.130-1) > 0.01 {
		t.Errorf("a litre of water becomes %.4f L", v)
	}
	if g := 1000 * salt / v; math.Abs(g/317.5-1) > 0.005 {
		t.Errorf("saturated brine holds %.1f g/L", g)
	}
}

// Potassium chloride against the rows of the table, whose head and columns name
// their sources.
func TestPotassiumChlorideAgreesWithTable(t *testing.T) {
	f, err := os.Open("../../../testdata/tables/kcl.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatal(len(rows), err)
	}
	number := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
	b := BrineOf(detect.PotassiumChloride)
	for _, row := range rows[1:] {
		var got float64
		switch row[0] {
		case "saturated_ratio":
			got = 100 * b.Saturation(number(row[1]))
		case "density":
			share := number(row[2]) / 100
			got = 1000 / b.Volume(1-share, share)
		default:
			continue
		}
		if want := number(row[3]); math.Abs(got/want-1) > max(number(row[4]), 0.2)/100 {
			t.Errorf("%v: %.2f", row, got)
		}
	}
}
