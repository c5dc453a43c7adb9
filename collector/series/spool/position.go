package spool

import (
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"strings"
)

const positionFile = "position"

// savePosition notes up to where the store has everything. It is not flushed: an
// older one, or none, means that some readings are stored again.
func savePosition(dir string, p position) error {
	line := fmt.Sprintf("%d %d", p.segment, p.offset)
	text := fmt.Sprintf("%s %08x\n", line, crc32.Checksum([]byte(line), castagnoli))
	path := filepath.Join(dir, positionFile)
	if err := os.WriteFile(path+".new", []byte(text), 0o640); err != nil {
		return errors.Join(err, remove(path+".new"))
	}
	return os.Rename(path+".new", path)
}

// readPosition is the noted position; the very beginning when there is none or
// it cannot be read.
func readPosition(dir string) (p position) {
	text, err := os.ReadFile(filepath.Join(dir, positionFile))
	if err != nil {
		return position{}
	}
	line, sum, _ := strings.Cut(strings.TrimSpace(string(text)), " ")
	offset, sum, ok := strings.Cut(sum, " ")
	line += " " + offset
	if !ok || sum != fmt.Sprintf("%08x", crc32.Checksum([]byte(line), castagnoli)) {
		return position{}
	}
	if _, err := fmt.Sscanf(line, "%d %d", &p.segment, &p.offset); err != nil {
		return position{}
	}
	return p
}
