package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// meter shows one line of progress on a terminal and nothing anywhere else.
type meter struct {
	out   io.Writer
	live  bool
	start time.Time
	shown time.Time
}

// refresh is often enough to look alive and rare enough to cost nothing.
const refresh = 200 * time.Millisecond

func newMeter(out io.Writer) *meter {
	f, ok := out.(*os.File)
	return &meter{out: out, live: ok && term.IsTerminal(int(f.Fd())), start: time.Now()}
}

// show draws the share done, 0 to 1 (negative when unknown), with a text.
func (m *meter) show(share float64, text string) {
	now := time.Now()
	if !m.live || now.Sub(m.shown) < refresh {
		return
	}
	m.shown = now
	const width = 24
	bar := ""
	if share >= 0 {
		done := min(int(share*width), width)
		bar = fmt.Sprintf("[%-*s] %3.0f %% ", width, dashes(done), 100*share)
	}
	fmt.Fprintf(m.out, "\r\x1b[K%s%s", bar, text)
}

func (m *meter) clear() {
	if m.live {
		fmt.Fprint(m.out, "\r\x1b[K")
	}
}

func (m *meter) elapsed() time.Duration { return time.Since(m.start) }

func dashes(n int) string {
	const line = "========================"
	return line[:n]
}
