package collector

import "fmt"

// reserve is what is left free where the stores are, or a tenth of a small disk.
// The series store's library ends the program when it cannot write a file that it
// needs for its memory, and SQLite needs room to move its log into its database;
// so nothing is taken in long before the last byte.
const reserve = 64 << 20

// room says how little is left, or nil while there is enough.
func (c *Collector) room() error {
	free, size, ok := space(c.opts.Dir)
	if least := min(reserve, size/10); ok && free < least {
		return fmt.Errorf("the disk with %s has %d MB left, and nothing is taken in below %d MB: make room", c.opts.Dir, free>>20, least>>20)
	}
	return nil
}
