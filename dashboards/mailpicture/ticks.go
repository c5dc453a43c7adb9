package mailpicture

import (
	"time"

	"gonum.org/v1/plot"
)

// ticks are local midnights, or every three hours where few midnights are seen.
type ticks struct{ loc *time.Location }

var _ plot.Ticker = ticks{}

const (
	shortSpan   = 36 * time.Hour // up to it hours are marked
	shortStep   = 3              // hours
	mostOnAxis  = 10             // days, so that labels do not touch
	dayFormat   = "2 Jan"
	hoursFormat = "15:04"
)

// Ticks are at Unix seconds.
func (k ticks) Ticks(from, to float64) (out []plot.Tick) {
	first := time.Unix(int64(from), 0).In(k.loc)
	span := time.Duration(to-from) * time.Second
	step, format := 24*max(1, int(span.Hours()/24)/mostOnAxis), dayFormat
	if span <= shortSpan {
		step, format = shortStep, hoursFormat
	}
	for hour := 0; ; hour += step {
		at := time.Date(first.Year(), first.Month(), first.Day(), hour, 0, 0, 0, k.loc)
		switch v := float64(at.Unix()); {
		case v > to:
			return out
		case v >= from:
			label := at.Format(format)
			if format == hoursFormat && at.Hour() == 0 {
				label = at.Format(dayFormat)
			}
			out = append(out, plot.Tick{Value: v, Label: label})
		}
	}
}
