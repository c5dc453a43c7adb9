package main

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
)

// Libraries' news is kept back, their warnings and everybody else's news are not;
// with the level debug all of it is there.
func TestLibrariesAreCalm(t *testing.T) {
	for level, want := range map[slog.Level]string{slog.LevelInfo: "own broker-warns", slog.LevelDebug: "own opened broker-warns deep \"error dumped\" \"\""} {
		var out bytes.Buffer
		log := calmed(slog.New(slog.NewTextHandler(&out, &slog.HandlerOptions{Level: level})))
		log.Info("own")
		log.With("part", "series").Info("opened")
		log.With("part", "embedded broker").WithGroup("x").Warn("broker-warns", "a", 1)
		log.With("part", "series").With("b", 2).Debug("deep")
		log.With("part", "embedded broker").Warn("error dumped", "pk", "Payload:[1 2 3]")
		log.With("part", "embedded broker").Warn("", "error", "not authorized")
		var said []string
		for line := range strings.Lines(out.String()) {
			_, rest, _ := strings.Cut(line, "msg=")
			word, _, _ := strings.Cut(strings.TrimSpace(rest), " ")
			if strings.HasPrefix(word, `"e`) {
				word = `"error dumped"`
			}
			said = append(said, word)
		}
		if got := strings.Join(said, " "); got != want {
			t.Errorf("at %v: %q, want %q", level, got, want)
		}
	}
}
