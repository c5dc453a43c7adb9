package people

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Cost is what hashing a password costs.
type Cost struct {
	Passes  uint32
	Memory  uint32 // KiB
	Threads uint8
}

// DefaultCost is the second recommended option of RFC 9106, section 4, for
// where memory is short: three passes over 64 MiB in four lanes. A salt of 128
// bits and a tag of 256 bits, as used below, belong to it.
var DefaultCost = Cost{Passes: 3, Memory: 64 * 1024, Threads: 4}

const (
	saltLength, tagLength = 16, 32 // bytes
	// The bounds of a password in characters. At least 15 is what NIST SP
	// 800-63B-4, section 3.1.1.2, asks of a password that stands alone; the
	// upper bound keeps a request small, and is well over the 64 that it wants
	// to be possible.
	minPassword, maxPassword = 15, 256
	// minDistinct keeps out one key held down.
	minDistinct = 5
)

// CheckPassword says what is wrong with a password, in words for whoever chose
// it; nil if it will do.
func CheckPassword(password string) error {
	n := utf8.RuneCountInString(password)
	distinct := map[rune]bool{}
	for _, r := range password {
		distinct[r] = true
	}
	switch {
	case n < minPassword:
		return fmt.Errorf("the password is too short: use at least %d characters, four words do", minPassword)
	case n > maxPassword:
		return fmt.Errorf("the password is too long: use at most %d characters", maxPassword)
	case len(distinct) < minDistinct:
		return fmt.Errorf("the password repeats itself: use at least %d different characters", minDistinct)
	}
	return nil
}

// hash is a password's hash with all that is needed to check it, in the PHC
// string format. It waits while others are hashed.
func (s *Store) hash(ctx context.Context, password string) (string, error) {
	salt := make([]byte, saltLength)
	_, _ = rand.Read(salt) // never fails: crypto/rand ends the program instead
	tag, err := s.tag(ctx, password, salt, s.cost, tagLength)
	if err != nil {
		return "", err
	}
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, s.cost.Memory, s.cost.Passes, s.cost.Threads,
		b64.EncodeToString(salt), b64.EncodeToString(tag)), nil
}

// tag hashes one of at most maxHashing at a time. Characters that look the same
// and are composed differently count as the same, as SP 800-63B asks.
func (s *Store) tag(ctx context.Context, password string, salt []byte, c Cost, length uint32) ([]byte, error) {
	select {
	case s.hashing <- struct{}{}:
		defer func() { <-s.hashing }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return argon2.IDKey(norm.NFC.Bytes([]byte(password)), salt, c.Passes, c.Memory, c.Threads, length), nil
}

var errHash = errors.New("a stored password hash cannot be read")

// matches says whether a password has the hash.
func (s *Store) matches(ctx context.Context, password, hash string) (bool, error) {
	part := strings.Split(hash, "$")
	if len(part) != 6 || part[1] != "argon2id" {
		return false, errHash
	}
	var version int
	var c Cost
	if _, err := fmt.Sscanf(part[2], "v=%d", &version); err != nil || version != argon2.Version {
		return false, errHash
	}
	if _, err := fmt.Sscanf(part[3], "m=%d,t=%d,p=%d", &c.Memory, &c.Passes, &c.Threads); err != nil || c.Passes == 0 || c.Threads == 0 {
		return false, errHash
	}
	salt, err := base64.RawStdEncoding.DecodeString(part[4])
	if err != nil {
		return false, errHash
	}
	want, err := base64.RawStdEncoding.DecodeString(part[5])
	if err != nil || len(want) == 0 || len(want) > 1024 {
		return false, errHash
	}
	got, err := s.tag(ctx, password, salt, c, uint32(len(want))) // #nosec G115 -- bounded above
	return err == nil && subtle.ConstantTimeCompare(got, want) == 1, err
}
