// Package serve is padjig station: the station that serves the pages, and who may use
// them. What a lane does with a unit is in package station.
package serve

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/legible"
)

// stationFlags are those of padjig station.
type stationFlags struct {
	server.Options
	store string
	tower bool
}

// Command is padjig station with all that is below it.
func Command() *cobra.Command {
	var o stationFlags
	cmd := &cobra.Command{
		Use:   "station --product FILE --jig PORT",
		Short: "Serve the pages people work with, and drive one or more jigs",
		Long: `Serves pages for operators, quality engineers, the returns desk and fixture
engineers, and tests what is scanned on them. Each --jig is a lane of its own;
with one --product all lanes test it, otherwise one is given for each lane.

A jig that is unplugged is found again by its serial number. The verdict of a
unit is shown when it is stored, and never before.

The pages are served to this computer alone. For others on the network they
need TLS (--tls-cert, --tls-key), at least one account, and the names they are
called by (--host). The first account is made at the terminal: see
padjig station accounts.

When releases of a product are recorded, the newest release is what is tested,
whatever the file says by now.`,
		Example: `  padjig station --product my-pad.yaml --jig J-0042
  padjig station --product my-pad.yaml --jig J-0042 --jig J-0043 --shifts 06:00,14:00,22:00
  padjig station --product a.yaml --jig J-1 --listen :443 --tls-cert c.pem --tls-key k.pem --host l2
  padjig station accounts add Ines --role engineer`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.Products, "product", nil, "product `FILE`, once or for each jig")
	f.StringArrayVar(&o.Jigs, "jig", nil, "`PORT` of a jig, or its serial number; may be given more than once")
	f.StringArrayVar(&o.Boxes, "box", nil, "`FILE` of a reference box at hand, for the pages of the jigs; may be given\nmore than once")
	command.Must(cmd.MarkFlagFilename("box", "yaml", "yml"))
	command.ActuationFlag(cmd, &o.Press, "mechanical, electrical or hand")
	f.StringVar(&o.Listen, "listen", server.UsualAddress, "`ADDRESS` to serve the pages at")
	f.StringArrayVar(&o.Hosts, "host", nil, "`NAME` the station is called by, with its port; may be given more than once")
	f.StringVar(&o.Cert, "tls-cert", "", "certificate `FILE` (PEM)")
	f.StringVar(&o.Key, "tls-key", "", "key `FILE` (PEM)")
	f.StringSliceVar(&o.Shifts, "shifts", nil, "`TIMES` at which shifts begin, such as 06:00,14:00,22:00 (default midnight)")
	f.StringVar(&o.Zone, "zone", "", "time `ZONE` of the plant, such as Europe/Berlin, kept in the\nrecords for every command (default the one kept, else this computer's)")
	f.DurationVar(&o.Lock, "lock", 10*time.Minute, "time after which a verdict left alone asks for\nthe unit again, 0 for never")
	f.DurationVar(&o.Leave, "leave", time.Hour, "time after which a person who does nothing is\nlogged off, 0 for never")
	f.StringVar(&o.Screen, "screen", legible.UsualScreen, "`SIZE` of the screen: its diagonal as 24in,\nor its width as 531mm")
	f.StringVar(&o.Distance, "distance", legible.UsualDistance, "`LENGTH` from which the screen is read;\nletters are made as large as that needs")
	f.BoolVar(&o.tower, "tower", true, "show how a lane stands on its jig's signal tower,\nwhere the jig states one; --tower=false leaves it dark")
	command.BaudFlag(cmd, &o.Baud)
	command.StoreFlag(cmd, &o.store)
	command.Needs(cmd, "product", "jig")
	cmd.MarkFlagsRequiredTogether("tls-cert", "tls-key")
	cmd.AddCommand(newAccounts())
	return cmd
}

func (o *stationFlags) run(cmd *cobra.Command) error {
	if err := server.WrongAddress(o.Listen); err != nil {
		return err
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	o.Dark = !o.tower
	s, err := o.Build(cmd, store)
	if err != nil {
		return err
	}
	listener, err := o.Hear(cmd.Context(), store)
	if err != nil {
		return err
	}
	return s.Serve(cmd.Context(), listener, func(address string) {
		fmt.Fprintf(cmd.OutOrStdout(), "station at %s\n", address)
	})
}
