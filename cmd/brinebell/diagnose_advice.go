package main

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/cause"
	"brinebell/detect/resin"
)

const (
	// likelySetting is from what probability of a setting being the cause it is
	// worth advice.
	likelySetting = 0.10
	// setWrong is by how much, as a share, a measured raw hardness differs from the
	// one set before the setting counts as wrong: titration and strips agree within
	// a tenth (common practice, no source).
	setWrong = 0.15
)

// advice is the setting to change to, for the measured water and the use in the
// books; ok is false where the present one fits or nobody knows the use.
func (v *site) advice(step cause.Step) (a resin.Advice, ok bool) {
	wrong := v.raw > 0 && math.Abs(v.raw/v.home.Water.Hardness-1) > setWrong
	if !wrong && !settingsMatter(step) {
		return a, false
	}
	books := &account{home: v.home, books: v.books}
	a = books.advice()
	if v.raw > 0 {
		water, _ := books.water()
		water.Hardness = v.raw
		a = resin.Advise(&v.home, water, books.use())
	}
	return a, a.Advised.Dose > 0 && (wrong || a.Saving() > 0)
}

// settingsMatter says whether a setting is a likely cause.
func settingsMatter(step cause.Step) bool {
	for _, c := range step.Causes {
		switch c.Cause {
		case detect.SettingHardness, detect.SettingDose, detect.SettingReserve, detect.SourceChanged, detect.UseGrew:
			if c.Probability >= likelySetting {
				return true
			}
		}
	}
	return false
}
