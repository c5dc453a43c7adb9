package api

import (
	"context"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/detect/care"
)

type DeviceView struct {
	Home     string   `json:"home"`
	ID       string   `json:"id"`
	Name     string   `json:"name"`
	Login    string   `json:"login" doc:"user name at the broker, and common name of its certificate"`
	Topic    string   `json:"topic" doc:"where it publishes SenML"`
	Topics   []string `json:"topics" nullable:"false" doc:"of its own, for what speaks no SenML"`
	Password bool     `json:"password" doc:"it has one; else it needs a certificate"`
	Disabled bool     `json:"disabled"`
}

// newDevice is a device with its password, shown this once.
type newDevice struct {
	DeviceView
	Secret string `json:"secret,omitempty" doc:"its password, Which cannot be had again"`
}

func viewOfDevice(d care.Device) DeviceView {
	return DeviceView{d.Home, d.ID, d.Name, d.Login(), d.Topic(), append([]string{}, d.Topics...), d.Password, d.Disabled}
}

type DevicePath struct {
	HomePath
	Device string `path:"device" maxLength:"100" doc:"id of the device at its home"`
}

// DeviceBody is what is said of a device.
type DeviceBody struct {
	Name     string   `json:"name" maxLength:"120"`
	Topics   []string `json:"topics,omitempty" maxItems:"20"`
	Disabled bool     `json:"disabled,omitempty"`
}

func (a *API) registerDevices() {
	huma.Register(a.huma, op("GET", "/homes/{home}/devices", "list-devices", "What publishes for a home", 200), a.listDevices)
	huma.Register(a.huma, op("POST", "/homes/{home}/devices", "add-device", "Add a device", 201), a.addDevice)
	huma.Register(a.huma, op("GET", "/homes/{home}/devices/{device}", "get-device", "A device", 200), a.getDevice)
	huma.Register(a.huma, op("PUT", "/homes/{home}/devices/{device}", "put-device", "Change a device", 204), a.putDevice)
	huma.Register(a.huma, op("DELETE", "/homes/{home}/devices/{device}", "remove-device", "Remove a device", 204), a.removeDevice)
	huma.Register(a.huma, op("POST", "/homes/{home}/devices/{device}/password", "renew-device-password", "Give a device another password", 200), a.renewDevice)
}

func (a *API) listDevices(ctx context.Context, in *struct {
	HomePath
	Paging
}) (*pageOf[DeviceView], error) {
	if _, err := a.at(ctx, in.Home, care.SeeProfile); err != nil {
		return nil, err
	}
	all, err := a.People.Devices(ctx, in.Home)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	views := make([]DeviceView, len(all))
	for i, d := range all {
		views[i] = viewOfDevice(d)
	}
	return slice(views, func(d DeviceView) string { return d.ID }, in.Paging)
}

func (a *API) device(ctx context.Context, home, id string) (care.Device, error) {
	all, err := a.People.Devices(ctx, home)
	if err != nil {
		return care.Device{}, a.fail(err, "device")
	}
	for _, d := range all {
		if d.ID == id {
			return d, nil
		}
	}
	return care.Device{}, a.fail(care.ErrNone, "device")
}

func (a *API) getDevice(ctx context.Context, in *DevicePath) (*struct{ Body DeviceView }, error) {
	if _, err := a.at(ctx, in.Home, care.SeeProfile); err != nil {
		return nil, err
	}
	d, err := a.device(ctx, in.Home, in.Device)
	if err != nil {
		return nil, err
	}
	return &struct{ Body DeviceView }{viewOfDevice(d)}, nil
}

func (a *API) addDevice(ctx context.Context, in *struct {
	HomePath
	Body struct {
		ID string `json:"id" maxLength:"40"`
		DeviceBody
		Certificate bool `json:"certificate,omitempty" doc:"it proves itself by a certificate and gets no password"`
	}
}) (*struct{ Body newDevice }, error) {
	at, err := a.at(ctx, in.Home, care.SetUpDevices)
	if err != nil {
		return nil, err
	}
	d := care.Device{Home: in.Home, ID: in.Body.ID, Name: in.Body.Name, Topics: in.Body.Topics, Disabled: in.Body.Disabled, Password: !in.Body.Certificate}
	secret, err := a.People.AddDevice(ctx, d)
	if err != nil {
		return nil, a.fail(err, "device")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: in.Home, Act: "device added", Subject: d.Login()})
	return &struct{ Body newDevice }{newDevice{viewOfDevice(d), secret}}, nil
}

func (a *API) putDevice(ctx context.Context, in *struct {
	DevicePath
	Body DeviceBody
}) (*nothing, error) {
	at, err := a.at(ctx, in.Home, care.SetUpDevices)
	if err != nil {
		return nil, err
	}
	d := care.Device{Home: in.Home, ID: in.Device, Name: in.Body.Name, Topics: in.Body.Topics, Disabled: in.Body.Disabled}
	if err := a.People.ChangeDevice(ctx, d); err != nil {
		return nil, a.fail(err, "device")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: in.Home, Act: "device changed", Subject: d.Login()})
	return &nothing{}, nil
}

func (a *API) removeDevice(ctx context.Context, in *DevicePath) (*nothing, error) {
	at, err := a.at(ctx, in.Home, care.SetUpDevices)
	if err != nil {
		return nil, err
	}
	if err := a.People.RemoveDevice(ctx, in.Home, in.Device); err != nil {
		return nil, a.fail(err, "device")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: in.Home, Act: "device removed", Subject: in.Home + "/" + in.Device})
	return &nothing{}, nil
}

func (a *API) renewDevice(ctx context.Context, in *DevicePath) (*struct{ Body newDevice }, error) {
	at, err := a.at(ctx, in.Home, care.SetUpDevices)
	if err != nil {
		return nil, err
	}
	secret, err := a.People.NewDevicePassword(ctx, in.Home, in.Device)
	if err != nil {
		return nil, a.fail(err, "device")
	}
	d, err := a.device(ctx, in.Home, in.Device)
	if err != nil {
		return nil, err
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: in.Home, Act: "device password renewed", Subject: d.Login()})
	return &struct{ Body newDevice }{newDevice{viewOfDevice(d), secret}}, nil
}
