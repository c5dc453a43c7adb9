package collector

import "golang.org/x/sys/unix"

// space is how many bytes this user can still write below a directory, and how
// many its file system has.
func space(dir string) (free, size uint64, ok bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil || s.Bsize <= 0 {
		return 0, 0, false
	}
	return s.Bavail * uint64(s.Bsize), s.Blocks * uint64(s.Bsize), true
}
