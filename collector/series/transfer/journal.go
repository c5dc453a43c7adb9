package transfer

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"
)

// journal notes which home days have been copied and checked, a line each. A nil
// file notes nothing.
type journal struct {
	file *os.File

	mu   sync.Mutex // guards all below
	done map[string]bool
	err  error
}

// openJournal reads a journal, if it is there, to go on with it.
func openJournal(path string) (*journal, error) {
	j := &journal{done: map[string]bool{}}
	if path == "" {
		return j, nil
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR|os.O_APPEND, 0o640)
	if err != nil {
		return nil, err
	}
	j.file = f
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		j.done[lines.Text()] = true // half a line is no home's day
	}
	if err := lines.Err(); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	_, err = f.WriteString("\n") // ends a line that was cut off
	return j, err
}

func line(home string, d time.Time) string { return d.Format(time.DateOnly) + " " + home + " ok" }

func (j *journal) has(home string, d time.Time) bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.done[line(home, d)]
}

func (j *journal) add(home string, d time.Time) {
	if j.file == nil {
		return
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	_, err := fmt.Fprintln(j.file, line(home, d))
	j.err = errors.Join(j.err, err)
}

// flush says whether everything could be noted.
func (j *journal) flush() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.err
}

func (j *journal) close() error {
	if j.file == nil {
		return nil
	}
	return j.file.Close()
}
