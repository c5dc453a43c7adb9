package people

import (
	"context"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha512"
	"crypto/subtle"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"brinebell/detect/care"
)

// AddDevice adds a device to a home. With a password, that is returned and can
// not be had again; without, the device must have a certificate whose common
// name is its login.
func (s *Store) AddDevice(ctx context.Context, d care.Device) (password string, err error) {
	if err := checkDevice(d); err != nil {
		return "", bad(err)
	}
	if _, err := s.Place(ctx, d.Home); err != nil {
		return "", err
	}
	topics, err := json.Marshal(append([]string{}, d.Topics...))
	if err != nil {
		return "", err
	}
	hash := ""
	if d.Password {
		if password, hash, err = newDevicePassword(); err != nil {
			return "", err
		}
	}
	return password, s.must(ctx, `INSERT INTO devices (home, id, name, password, topics, disabled, created) VALUES (?, ?, ?, nullif(?, ''), ?, ?, ?)`,
		d.Home, d.ID, d.Name, hash, string(topics), d.Disabled, s.now().UnixNano())
}

func checkDevice(d care.Device) error {
	if err := care.CheckDeviceID(d.ID); err != nil {
		return err
	}
	if err := checkName(d.Name); err != nil {
		return err
	}
	for _, t := range d.Topics {
		// A topic of homes/ could be another home's, and wildcards any.
		if t == "" || len(t) > maxName || strings.ContainsAny(t, "+#\x00\r\n $") || strings.HasPrefix(t, "homes/") {
			return fmt.Errorf("%q is not a topic of the device's own: it has no wildcards or blanks and does not begin with homes/", t)
		}
	}
	return nil
}

// ChangeDevice changes a device's name, topics and whether it is disabled.
func (s *Store) ChangeDevice(ctx context.Context, d care.Device) error {
	if err := checkDevice(d); err != nil {
		return bad(err)
	}
	topics, err := json.Marshal(append([]string{}, d.Topics...))
	if err != nil {
		return err
	}
	return s.must(ctx, `UPDATE devices SET name = ?, topics = ?, disabled = ? WHERE home = ? AND id = ?`, d.Name, string(topics), d.Disabled, d.Home, d.ID)
}

// NewDevicePassword replaces a device's password.
func (s *Store) NewDevicePassword(ctx context.Context, home, id string) (password string, err error) {
	password, hash, err := newDevicePassword()
	if err != nil {
		return "", err
	}
	return password, s.must(ctx, `UPDATE devices SET password = ? WHERE home = ? AND id = ?`, hash, home, id)
}

// RemoveDevice removes a device. A connection that it has lasts until it ends.
func (s *Store) RemoveDevice(ctx context.Context, home, id string) error {
	return s.must(ctx, `DELETE FROM devices WHERE home = ? AND id = ?`, home, id)
}

// Devices are those of a home, or all when it is empty, in order of their
// logins.
func (s *Store) Devices(ctx context.Context, home string) (out []care.Device, err error) {
	err = s.devices(ctx, home, "", func(d care.Device, _ string) { out = append(out, d) })
	return out, err
}

// DeviceHashes are the hashes of all devices that have a password and are not
// disabled, by login, in the form of Mosquitto's password file.
func (s *Store) DeviceHashes(ctx context.Context) (map[string]string, error) {
	out := map[string]string{}
	return out, s.devices(ctx, "", "", func(d care.Device, hash string) {
		if d.Password && !d.Disabled {
			out[d.Login()] = hash
		}
	})
}

func (s *Store) devices(ctx context.Context, home, id string, take func(d care.Device, hash string)) error {
	return s.db.Each(ctx, func(rows *sql.Rows) error {
		var d care.Device
		var hash, topics string
		var created int64
		if err := rows.Scan(&d.Home, &d.ID, &d.Name, &hash, &topics, &d.Disabled, &created); err != nil {
			return err
		}
		if err := json.Unmarshal([]byte(topics), &d.Topics); err != nil {
			return err
		}
		d.Password, d.Created = hash != "", stamp(created)
		take(d, hash)
		return nil
	}, `SELECT home, id, name, coalesce(password, ''), topics, disabled, created FROM devices WHERE ?1 IN ('', home) AND ?2 IN ('', id) ORDER BY home, id`, home, id)
}

// DeviceByPassword is the device with that login and password, or care.ErrWrong.
func (s *Store) DeviceByPassword(ctx context.Context, login, password string) (care.Device, error) {
	d, hash, err := s.device(ctx, login)
	if err != nil {
		return d, err
	}
	if !d.Password || !matchesDevice(password, hash) {
		return care.Device{}, care.ErrWrong
	}
	return d, nil
}

// DeviceByName is the device with that login, which has proved itself by a
// certificate, or care.ErrWrong.
func (s *Store) DeviceByName(ctx context.Context, login string) (care.Device, error) {
	d, _, err := s.device(ctx, login)
	return d, err
}

func (s *Store) device(ctx context.Context, login string) (d care.Device, hash string, err error) {
	home, id, ok := strings.Cut(login, "/")
	if !ok || home == "" || id == "" {
		return d, "", care.ErrWrong
	}
	err = s.devices(ctx, home, id, func(found care.Device, h string) { d, hash = found, h })
	if err == nil && (d.ID == "" || d.Disabled) {
		return care.Device{}, "", care.ErrWrong
	}
	return d, hash, err
}

// deviceRounds of PBKDF2. The passwords are 130 random bits and cannot be found
// by trying, so that the rounds protect nothing; a broker, which hashes at every
// connect, would pay for them. It is what mosquitto_passwd uses by default.
const deviceRounds = 101

// newDevicePassword makes a password with its hash as mosquitto_passwd writes
// it: $7$rounds$salt$hash, PBKDF2 with HMAC-SHA512 (RFC 8018).
func newDevicePassword() (password, hash string, err error) {
	password = newSecret()
	hash, err = hashForMosquitto(password, deviceRounds)
	return password, hash, err
}

// chosenRounds are for a password that somebody has chosen: OWASP's Password
// Storage Cheat Sheet asks for 210,000 of PBKDF2 with HMAC-SHA512.
const chosenRounds = 210_000

// HashForMosquitto hashes a password that somebody has chosen, as that of the
// collector, for Mosquitto's password file.
func HashForMosquitto(password string) (string, error) {
	return hashForMosquitto(password, chosenRounds)
}

func hashForMosquitto(password string, rounds int) (string, error) {
	salt := make([]byte, saltLength)
	_, _ = rand.Read(salt) // never fails
	key, err := pbkdf2.Key(sha512.New, password, salt, rounds, sha512.Size)
	return fmt.Sprintf("$7$%d$%s$%s", rounds, base64.StdEncoding.EncodeToString(salt), base64.StdEncoding.EncodeToString(key)), err
}

// maxRounds bounds the work of a hash that came from elsewhere.
const maxRounds = 1_000_000

func matchesDevice(password, hash string) bool {
	part := strings.Split(hash, "$")
	if len(part) != 5 || part[1] != "7" {
		return false
	}
	rounds, err := strconv.Atoi(part[2])
	if err != nil || rounds < 1 || rounds > maxRounds {
		return false
	}
	salt, err := base64.StdEncoding.DecodeString(part[3])
	if err != nil {
		return false
	}
	want, err := base64.StdEncoding.DecodeString(part[4])
	if err != nil || len(want) != sha512.Size {
		return false
	}
	got, err := pbkdf2.Key(sha512.New, password, salt, rounds, len(want))
	return err == nil && subtle.ConstantTimeCompare(got, want) == 1
}
