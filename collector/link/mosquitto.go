package link

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"brinebell/detect/care"
)

// Mosquitto is what a Mosquitto must know to guard a collector's devices as the
// embedded broker does.
type Mosquitto struct {
	// Collector is the name under which the collector connects, and Filters what
	// it reads and Writes what it publishes.
	Collector       string
	Filters, Writes []string
	Devices         []care.Device
	// Hashes are those of passwords by login, as its password file has them.
	Hashes map[string]string
	// HomeOf says of which home readings on a topic are, as in BrokerOptions.
	HomeOf func(topic string) (home string, ok bool)
}

// WriteACL writes the file of its acl_file setting (mosquitto.conf(5)): whoever
// is not in it may do nothing. A device's topic of another home is left out with
// a remark.
func (m Mosquitto) WriteACL(out io.Writer) error {
	w := bufio.NewWriter(out)
	fmt.Fprintf(w, "# Each device may publish on its own topics and read nothing.\n\nuser %s\n", m.Collector)
	for _, f := range m.Filters {
		fmt.Fprintf(w, "topic read %s\n", f)
	}
	for _, f := range m.Writes {
		fmt.Fprintf(w, "topic write %s\n", f)
	}
	g := gate{opts: BrokerOptions{HomeOf: m.HomeOf}}
	for _, d := range m.Devices {
		if d.Disabled {
			continue
		}
		fmt.Fprintf(w, "\nuser %s\ntopic write %s\n", d.Login(), d.Topic())
		for _, t := range d.Topics {
			if !g.owns(d, t) {
				fmt.Fprintf(w, "# left out, since its readings are not of this home: %s\n", t)
				continue
			}
			fmt.Fprintf(w, "topic write %s\n", t)
		}
	}
	return w.Flush()
}

// WritePasswords writes the file of its password_file setting, in the form that
// mosquitto_passwd writes.
func (m Mosquitto) WritePasswords(out io.Writer) error {
	logins := make([]string, 0, len(m.Hashes))
	for login := range m.Hashes {
		logins = append(logins, login)
	}
	slices.Sort(logins)
	var b strings.Builder
	for _, login := range logins {
		fmt.Fprintf(&b, "%s:%s\n", login, m.Hashes[login])
	}
	_, err := io.WriteString(out, b.String())
	return err
}
