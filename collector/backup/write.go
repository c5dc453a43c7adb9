package backup

import (
	"archive/tar"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Write writes the archive of a folder with copies of the stores.
func Write(ctx context.Context, out io.Writer, dir string, made time.Time, program string) (Manifest, error) {
	m := Manifest{Form: form, Made: made.UTC().Truncate(time.Second), Program: program}
	archive := tar.NewWriter(out)
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return errors.Join(err, ctx.Err())
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		f, err := addFile(archive, path, filepath.ToSlash(name), m.Made)
		m.Files = append(m.Files, f)
		return err
	})
	if err != nil {
		return m, err
	}
	_, err = os.Stat(filepath.Join(dir, SeriesDir))
	m.Readings = err == nil
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return m, err
	}
	if err := archive.WriteHeader(&tar.Header{Name: manifestFile, Mode: 0o640, Size: int64(len(text)), ModTime: m.Made}); err != nil {
		return m, err
	}
	_, err = archive.Write(text)
	return m, errors.Join(err, archive.Close())
}

func addFile(archive *tar.Writer, path, name string, made time.Time) (f File, err error) {
	in, err := os.Open(path)
	if err != nil {
		return f, err
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return f, err
	}
	if err := archive.WriteHeader(&tar.Header{Name: name, Mode: 0o640, Size: info.Size(), ModTime: made}); err != nil {
		return f, err
	}
	sum := sha256.New()
	if _, err := io.Copy(io.MultiWriter(archive, sum), io.LimitReader(in, info.Size())); err != nil {
		return f, err
	}
	return File{name, info.Size(), hex.EncodeToString(sum.Sum(nil))}, nil
}
