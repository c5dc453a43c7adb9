package link

import (
	"context"
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"brinebell/detect/care"
)

// Devices says which devices there are. Errors are care.ErrWrong for those that
// may not come in; any other is a failure, and then nobody may.
type Devices interface {
	DeviceByPassword(ctx context.Context, login, password string) (care.Device, error)
	DeviceByName(ctx context.Context, login string) (care.Device, error)
}

// recheck is how long a device that has been removed or disabled may go on
// publishing on a connection it has.
const recheck = time.Minute

// lookupTime bounds one look at what devices there are.
const lookupTime = 5 * time.Second

// pass is what a client may do.
type pass struct {
	trusted bool // everything
	device  care.Device

	mu      sync.Mutex
	checked time.Time // when the device was last looked up; guarded by mu
}

// gate says who may connect and what each may publish.
type gate struct {
	opts BrokerOptions

	mu     sync.RWMutex
	passes map[*mochi.Client]*pass // of those connected; guarded by mu
}

// open says whether anyone may connect.
func (g *gate) open() bool { return g.opts.Devices == nil && len(g.opts.Users) == 0 }

// admit lets a client in that has proved who it is.
func (g *gate) admit(cl *mochi.Client, pk packets.Packet) bool {
	if g.open() {
		return true
	}
	p, login, err := g.identify(cl, string(pk.Connect.Username), string(pk.Connect.Password))
	if err != nil {
		if !errors.Is(err, care.ErrWrong) {
			g.opts.Logger.Error("who connects could not be looked up", "error", err)
		}
		g.refuse("", fmt.Sprintf("a client that says it is %.60q, from %s, did not prove it", login, cl.Net.Remote))
		return false
	}
	if !p.trusted {
		// Ids of clients are theirs to choose; two devices with one id must not
		// throw each other out or get each other's session.
		cl.ID = p.device.Login() + " " + cl.ID
		cl.Properties.Will = mochi.Will{} // would pass round what is said of publishing
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.passes[cl] = p
	return true
}

func (g *gate) leave(cl *mochi.Client) {
	g.mu.Lock()
	defer g.mu.Unlock()
	delete(g.passes, cl)
}

// identify finds out who a client is: a trusted user by password, a device by
// certificate or password.
func (g *gate) identify(cl *mochi.Client, name, password string) (p *pass, login string, err error) {
	if want, ok := g.opts.Users[name]; ok {
		if subtle.ConstantTimeCompare([]byte(want), []byte(password)) != 1 {
			return nil, name, care.ErrWrong
		}
		return &pass{trusted: true}, name, nil
	}
	if g.opts.Devices == nil {
		return nil, name, care.ErrWrong
	}
	ctx, cancel := context.WithTimeout(context.Background(), lookupTime)
	defer cancel()
	var d care.Device
	if certified, ok := commonName(cl); ok {
		if name != "" && name != certified {
			return nil, name, care.ErrWrong
		}
		name = certified
		d, err = g.opts.Devices.DeviceByName(ctx, certified)
	} else {
		d, err = g.opts.Devices.DeviceByPassword(ctx, name, password)
	}
	return &pass{device: d, checked: time.Now()}, name, err
}

// commonName is that of the certificate a client has proved to hold; the
// listener takes only those of its authority.
func commonName(cl *mochi.Client) (name string, ok bool) {
	conn, ok := bare(cl.Net.Conn).(*tls.Conn)
	if !ok {
		return "", false
	}
	chains := conn.ConnectionState().VerifiedChains
	if len(chains) == 0 || len(chains[0]) == 0 {
		return "", false
	}
	return chains[0][0].Subject.CommonName, true
}

func (g *gate) passOf(cl *mochi.Client) *pass {
	g.mu.RLock()
	defer g.mu.RUnlock()
	return g.passes[cl]
}

// trusts says whether a client may do everything: the collector itself, a
// trusted user, or anyone where the broker is open.
func (g *gate) trusts(cl *mochi.Client) bool {
	if g.open() || cl.Net.Inline {
		return true
	}
	p := g.passOf(cl)
	return p != nil && p.trusted
}

// allows says whether a client may write or read on a topic.
func (g *gate) allows(cl *mochi.Client, topic string, write bool) bool {
	if write && strings.HasPrefix(topic, "$") {
		return false
	}
	if g.trusts(cl) {
		return true
	}
	p := g.passOf(cl)
	switch {
	case p == nil:
		return false
	case !write:
		return false // devices read nothing
	case !g.stillThere(p):
		g.refuse(topic, p.device.Login()+" has been removed or disabled")
		cl.Stop(errNotAllowed)
		return false
	case !g.owns(p.device, topic):
		g.refuse(topic, p.device.Login()+" may not publish here")
		return false
	}
	return true
}

var errNotAllowed = errors.New("not allowed any more")

// owns says whether a topic is a device's own. A topic of its own choice must
// also be one whose readings are its home's: somebody who sets up devices at one
// home could name any topic.
func (g *gate) owns(d care.Device, topic string) bool {
	if topic == d.Topic() {
		return true
	}
	for _, t := range d.Topics {
		if t == topic {
			home, ok := g.opts.HomeOf(topic)
			return ok && home == d.Home
		}
	}
	return false
}

// stillThere looks a device up again now and then.
func (g *gate) stillThere(p *pass) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if time.Since(p.checked) < recheck {
		return true
	}
	ctx, cancel := context.WithTimeout(context.Background(), lookupTime)
	defer cancel()
	d, err := g.opts.Devices.DeviceByName(ctx, p.device.Login())
	if errors.Is(err, care.ErrWrong) {
		return false
	}
	if err != nil { // not its fault; it is asked again next time
		g.opts.Logger.Error("a device could not be looked up", "device", p.device.Login(), "error", err)
		return true
	}
	p.device, p.checked = d, time.Now()
	return true
}

// refuse reports what was not allowed.
func (g *gate) refuse(topic, why string) {
	g.opts.Refused(topic, why)
}
