package backup

import (
	"archive/tar"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// maxManifest bounds what is read as a manifest: some 100,000 files.
const maxManifest = 32 << 20

// Verify reads an archive through and holds every file against the manifest.
func Verify(ctx context.Context, in io.Reader) (Manifest, error) {
	return read(ctx, in, func(string) (io.WriteCloser, error) { return discard{}, nil })
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }
func (discard) Close() error                { return nil }

// read takes an archive apart: each file goes to what create makes for it.
func read(ctx context.Context, in io.Reader, create func(name string) (io.WriteCloser, error)) (m Manifest, err error) {
	archive := tar.NewReader(in)
	var files []File
	for {
		header, err := archive.Next()
		switch {
		case errors.Is(err, io.EOF):
			return m, fmt.Errorf("%w: its end is missing", ErrBroken)
		case err != nil:
			return m, fmt.Errorf("%w: %w", ErrBroken, err)
		case ctx.Err() != nil:
			return m, ctx.Err()
		case header.Name == manifestFile:
			return readManifest(archive, files)
		case header.Typeflag != tar.TypeReg || !filepath.IsLocal(filepath.FromSlash(header.Name)):
			return m, fmt.Errorf("%w: %q is nothing that belongs in it", ErrBroken, header.Name)
		}
		f, err := takeOut(archive, header, create)
		if err != nil {
			return m, err
		}
		files = append(files, f)
	}
}

func takeOut(archive io.Reader, header *tar.Header, create func(string) (io.WriteCloser, error)) (f File, err error) {
	out, err := create(header.Name)
	if err != nil {
		return f, err
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(out, sum), archive)
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = fmt.Errorf("%w: it ends within %s", ErrBroken, header.Name)
	}
	return File{header.Name, n, hex.EncodeToString(sum.Sum(nil))}, errors.Join(err, out.Close())
}

func readManifest(in io.Reader, files []File) (m Manifest, err error) {
	if err := json.NewDecoder(io.LimitReader(in, maxManifest)).Decode(&m); err != nil {
		return m, fmt.Errorf("%w: its list of files cannot be read: %w", ErrBroken, err)
	}
	if m.Form != form {
		return m, fmt.Errorf("the backup is of form %d, made by version %s; this program reads form %d", m.Form, m.Program, form)
	}
	for i, want := range m.Files {
		if i >= len(files) || files[i] != want {
			return m, fmt.Errorf("%w: %s is not as it was written", ErrBroken, want.Name)
		}
	}
	if !slices.Equal(files, m.Files) {
		return m, fmt.Errorf("%w: it holds files that it does not list", ErrBroken)
	}
	return m, nil
}

// Restore takes an archive out into a folder, which must be empty or not there
// yet. Files are written and flushed beside it, and looked through by check before
// they take its place: after an error the folder is as it was.
func Restore(ctx context.Context, in io.Reader, dir string, check func(ctx context.Context, dir string) error) (m Manifest, err error) {
	if err := mustBeEmpty(dir); err != nil {
		return m, err
	}
	if err := os.MkdirAll(filepath.Dir(filepath.Clean(dir)), 0o750); err != nil {
		return m, err
	}
	beside, err := os.MkdirTemp(filepath.Dir(filepath.Clean(dir)), filepath.Base(dir)+".restoring-")
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(beside)) }()
	m, err = read(ctx, in, func(name string) (io.WriteCloser, error) { return createBelow(beside, name) })
	if err != nil {
		return m, err
	}
	if err := check(ctx, beside); err != nil {
		return m, err
	}
	if err := os.Chmod(beside, 0o750); err != nil {
		return m, err
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, os.ErrNotExist) {
		return m, err
	}
	return m, os.Rename(beside, dir)
}

func mustBeEmpty(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s: %w", dir, ErrNotEmpty)
	}
	return nil
}

// flushed is a file that is flushed as it is closed.
type flushed struct{ *os.File }

func (f flushed) Close() error { return errors.Join(f.Sync(), f.File.Close()) }

func createBelow(dir, name string) (io.WriteCloser, error) {
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o640)
	return flushed{f}, err
}
