package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"brinebell/collector/adapter"
	"brinebell/collector/intake"
	"brinebell/collector/link"
	"brinebell/collector/people"
	"brinebell/detect/care"
)

func devicesCommand(s streams) *cobra.Command {
	var name string
	var topics []string
	var certificate bool
	add := inOffice("add HOME ID", "Add a device, and print its login and password", cobra.ExactArgs(2), func(ctx context.Context, o office, args []string) error {
		d := care.Device{Home: args[0], ID: args[1], Name: name, Topics: topics, Password: !certificate}
		if d.Name == "" {
			d.Name = d.ID
		}
		password, err := o.AddDevice(ctx, d)
		if err != nil {
			return fmt.Errorf("%s: %w", d.Login(), err)
		}
		show(s.out, d, password)
		return o.noteDevice(ctx, d, "device added")
	})
	add.Flags().StringVar(&name, "name", "", "what people call it")
	add.Flags().StringSliceVar(&topics, "topic", nil, "a topic of its own, when it speaks no SenML; may be given again")
	add.Flags().BoolVar(&certificate, "certificate", false, "it proves itself by a certificate, whose common name is its login, and gets no password")
	list := inOffice("list [HOME]", "List devices", cobra.MaximumNArgs(1), func(ctx context.Context, o office, args []string) error {
		home := ""
		if len(args) > 0 {
			home = args[0]
		}
		all, err := o.Devices(ctx, home)
		return errors.Join(err, table(s, func(row func(...any)) {
			for _, d := range all {
				row(d.Login(), d.Name, d.Topic(), d.Topics)
			}
		}))
	})
	renew := inOffice("renew HOME ID", "Give a device another password, and print it", cobra.ExactArgs(2), func(ctx context.Context, o office, args []string) error {
		d := care.Device{Home: args[0], ID: args[1]}
		password, err := o.NewDevicePassword(ctx, d.Home, d.ID)
		if err != nil {
			return fmt.Errorf("%s: %w", d.Login(), err)
		}
		show(s.out, d, password)
		return o.noteDevice(ctx, d, "device password renewed")
	})
	remove := inOffice("remove HOME ID", "Remove a device", cobra.ExactArgs(2), func(ctx context.Context, o office, args []string) error {
		d := care.Device{Home: args[0], ID: args[1]}
		return errors.Join(o.RemoveDevice(ctx, d.Home, d.ID), o.noteDevice(ctx, d, "device removed"))
	})
	return group("devices", "Devices that publish for homes", add, list, renew, remove, mosquittoCommand(s))
}

func show(out io.Writer, d care.Device, password string) {
	fmt.Fprintf(out, "login     %s\n", d.Login())
	if password != "" {
		fmt.Fprintf(out, "password  %s\n", password)
	}
	fmt.Fprintf(out, "topic     %s\n", d.Topic())
}

func (o office) noteDevice(ctx context.Context, d care.Device, act string) error {
	at, err := o.Place(ctx, d.Home)
	if err != nil {
		return err
	}
	return o.note(ctx, care.Deed{Firm: at.Firm, Home: d.Home, Act: act, Subject: d.Login()})
}

func mosquittoCommand(s streams) *cobra.Command {
	var acl, passwords string
	cmd := inOffice("mosquitto --acl FILE --passwords FILE", "Write the files by which a Mosquitto guards the devices alike", cobra.NoArgs,
		func(ctx context.Context, o office, _ []string) error {
			if acl == "" || passwords == "" {
				return fmt.Errorf("%w: give --acl and --passwords, the files to write", care.ErrBad)
			}
			m, err := o.mosquitto(ctx)
			if err != nil {
				return err
			}
			if err := errors.Join(writeSecret(acl, m.WriteACL), writeSecret(passwords, m.WritePasswords)); err != nil {
				return inputError{err}
			}
			fmt.Fprintf(s.out, "In mosquitto.conf:\n\n  allow_anonymous false\n  acl_file %s\n  password_file %s\n\n"+
				"On a listener with certificates: require_certificate true, use_identity_as_username true.\nThen let it read them again: kill -HUP, or systemctl reload mosquitto.\n", acl, passwords)
			return nil
		})
	cmd.Long = `Writes the files of Mosquitto's settings acl_file and password_file: each device may
publish on its own topics and read nothing, as at the broker that "brinebell serve"
runs by itself. The collector is the user of broker.username. Write them again, and
let Mosquitto read them again, whenever devices were added or removed.`
	cmd.Flags().StringVar(&acl, "acl", "", "file to write who may do what to")
	cmd.Flags().StringVar(&passwords, "passwords", "", "file to write hashed passwords to")
	return cmd
}

// mosquitto is what a Mosquitto must know.
func (o office) mosquitto(ctx context.Context) (m link.Mosquitto, err error) {
	var adapters []*adapter.Adapter
	for _, c := range o.conf.Adapters {
		a, err := adapter.New(c)
		if err != nil {
			return m, err
		}
		adapters = append(adapters, a)
	}
	m = link.Mosquitto{Collector: o.conf.Broker.Username, Filters: intake.Filters(adapters), Writes: []string{"homes/+/alerts/+"},
		HomeOf: func(topic string) (string, bool) { return intake.HomeOf(adapters, topic) }}
	if m.Collector == "" {
		return m, fmt.Errorf("%w: the collector has no name at the broker: set broker.username and broker.password_file", care.ErrBad)
	}
	if m.Devices, err = o.Devices(ctx, ""); err != nil {
		return m, err
	}
	if m.Hashes, err = o.DeviceHashes(ctx); err != nil || o.conf.Broker.PasswordFile == "" {
		return m, err
	}
	password, err := readSecret(o.conf.Broker.PasswordFile)
	if err == nil {
		m.Hashes[m.Collector], err = people.HashForMosquitto(password)
	}
	return m, err
}

// writeSecret writes a file for its owner's eyes.
func writeSecret(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}
