package backup

import (
	"errors"
	"time"
)

// The names within an archive.
const (
	StateFile    = "state.db"
	SeriesDir    = "series"
	manifestFile = "manifest.json"
	// form is the archive's form; another is refused.
	form = 1
)

// Errors of an archive.
var (
	// ErrBroken is half an archive, or one that was changed.
	ErrBroken = errors.New("the backup is damaged or incomplete")
	// ErrNotEmpty is a folder that a restore would overwrite.
	ErrNotEmpty = errors.New("the folder is not empty, and nothing is overwritten")
)

// Manifest says what is in an archive.
type Manifest struct {
	Form    int       `json:"form"`
	Made    time.Time `json:"made"`
	Program string    `json:"program"` // version that made it
	// Readings says whether readings are in it, or kept by a server.
	Readings bool   `json:"readings"`
	Files    []File `json:"files"`
}

// File is one of an archive's files.
type File struct {
	Name   string `json:"name"` // with slashes
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"`
}

// Bytes are those of all files.
func (m Manifest) Bytes() (n int64) {
	for _, f := range m.Files {
		n += f.Size
	}
	return n
}
