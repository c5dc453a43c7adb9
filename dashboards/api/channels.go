package api

import (
	"fmt"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/detect"
	"brinebell/detect/care"
)

// channelView is a way to be told. What opens a door is never shown: of a
// gateway's address only the kind, of a webhook's secret nothing. Sent back as
// it was shown, it stays as it is.
type channelView struct {
	Kind   string `json:"kind" enum:"mail,gateway,webhook"`
	Target string `json:"target" maxLength:"1000"`
	Secret string `json:"secret,omitempty" writeOnly:"true" maxLength:"200" doc:"of a webhook: the key of its signature; empty leaves it as it is"`
	From   string `json:"from,omitempty" pattern:"^([01][0-9]|2[0-3]):[0-5][0-9]$" doc:"first hour of the day for anything but act_now, local time of the home"`
	To     string `json:"to,omitempty" pattern:"^([01][0-9]|2[0-3]):[0-5][0-9]$"`
	Least  string `json:"least,omitempty" enum:"act_now,this_week,plan," doc:"the least pressing that is told here; empty tells all"`
	Digest bool   `json:"digest,omitempty" doc:"gather what is not act_now into one message a day"`
}

func viewOfChannel(c care.Channel) channelView {
	v := channelView{Kind: string(c.Kind), Target: masked(c), Least: string(c.Least), Digest: c.Digest}
	if c.From != 0 || c.To != 0 {
		v.From, v.To = clock(c.From), clock(c.To)
	}
	return v
}

func clock(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours())%24, int(d.Minutes())%60)
}

// masked is a channel's address without what opens a door.
func masked(c care.Channel) string {
	if c.Kind != care.Gateway {
		return c.Target
	}
	kind, _, _ := strings.Cut(c.Target, "://")
	return kind + "://..."
}

// channel is what a view says, with what it does not show taken from the
// person's channels before.
func (v channelView) channel(before []care.Channel) (care.Channel, error) {
	c := care.Channel{Kind: care.ChannelKind(v.Kind), Target: v.Target, Secret: v.Secret, Least: detect.Severity(v.Least), Digest: v.Digest}
	for at, text := range map[*time.Duration]string{&c.From: v.From, &c.To: v.To} {
		if text == "" {
			continue
		}
		t, err := time.Parse("15:04", text)
		if err != nil {
			return c, huma.Error422UnprocessableEntity(fmt.Sprintf("%q is not an hour, as in 07:30", text))
		}
		*at = time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	}
	for _, old := range before {
		if old.Kind != c.Kind || masked(old) != v.Target {
			continue
		}
		c.Target = old.Target
		if c.Secret == "" {
			c.Secret = old.Secret
		}
		break
	}
	return c, nil
}
