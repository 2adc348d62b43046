package jig

// padjig jig list: which of the ports has the jig.

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results/report/columns"
)

func newList() *cobra.Command {
	var names, asJSON bool
	var baud int
	cmd := &cobra.Command{
		Use:   "list [PORT...]",
		Short: "List the ports and the jigs that answer on them",
		Long: `Lists the serial ports a jig may be on, one a line: USB adapters and boards,
and what matches the patterns in the environment variable PADJIG_PORTS. With
PORT arguments it lists those instead.

Each port is opened and greeted, which resets some boards and may disturb what
is no jig; a port that another padjig uses is left alone. --names opens none.`,
		Example: `  padjig jig list
  padjig jig list --names
  padjig jig list /tmp/jig0 /dev/ttyUSB1`,
		RunE: func(cmd *cobra.Command, args []string) error {
			ports, err := candidates(args)
			if err != nil {
				return command.Fail(command.NotMeasured, fmt.Errorf("list ports: %w", err), "")
			}
			return listPorts(cmd, ports, !names, asJSON, baud)
		},
	}
	cmd.Flags().BoolVar(&names, "names", false, "only name the ports, open none")
	command.BaudFlag(cmd, &baud)
	command.JSONFlag(cmd, &asJSON)
	return cmd
}

func candidates(paths []string) ([]link.Port, error) {
	if len(paths) == 0 {
		return link.Ports()
	}
	return command.Each(paths, func(path string) link.Port { return link.Port{Path: path} }), nil
}

func listPorts(cmd *cobra.Command, ports []link.Port, ask, asJSON bool, baud int) error {
	seen := command.Each(ports, object.PortOf)
	if ask {
		askAll(cmd.Context(), seen, baud)
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), object.Ports{Ports: seen})
	}
	if len(ports) == 0 {
		return command.Fail(command.NotMeasured, fmt.Errorf("there is no port a jig could be on"),
			"plug the jig in, or name its port: padjig jig list PORT")
	}
	wide := 0
	for _, p := range ports {
		wide = max(wide, columns.Width(p.Path))
	}
	for i, p := range ports {
		line := fmt.Sprintf("%s  %s  %s", columns.Pad(p.Path, wide), answered(seen[i]), adapter(p))
		fmt.Fprintln(cmd.OutOrStdout(), strings.TrimRight(line, " "))
	}
	return nil
}

// adapter is what the system says of the USB device above a port.
func adapter(p link.Port) string {
	return strings.Join(strings.Fields(strings.Join([]string{p.Maker, p.Model, p.Serial}, " ")), " ")
}

// bootTime is how long to wait for a jig that opening the port has reset.
const bootTime = 2 * time.Second

// askAll says hello on all ports at once: each may take as long as a jig boots.
func askAll(ctx context.Context, ports []object.Port, baud int) {
	var group sync.WaitGroup
	for i, p := range ports {
		group.Go(func() { ports[i] = greeted(ctx, p, baud) })
	}
	group.Wait()
}

func greeted(ctx context.Context, p object.Port, baud int) object.Port {
	jig, err := fixture.Open(ctx, p.Path, link.Options{Baud: baud, Boot: bootTime})
	if err != nil {
		return p.Silent(strings.TrimPrefix(strings.TrimPrefix(command.Plain(err), "open jig port "+p.Path+": "),
			"open jig at "+p.Path+": "))
	}
	defer jig.Close()
	return p.Answered(jig.Capabilities())
}

// answered says in one line what came of a port.
func answered(p object.Port) string {
	switch {
	case !p.Asked:
		return ""
	case p.Jig == "":
		return "no jig: " + p.NoJig
	}
	return introduce(fixture.Capabilities{
		Serial: p.Jig, Model: p.Model, Firmware: p.Firmware, Adapter: p.Adapter, Channels: p.Channels, Actuators: p.Actuators,
		Simulated: p.Simulated,
	})
}

// introduce is a jig in one line.
func introduce(c fixture.Capabilities) string {
	parts := []string{
		"jig " + c.Serial, c.Model, "firmware " + c.Firmware,
		command.Count(c.Channels, "channel"), command.Count(c.Actuators, "actuator"),
	}
	if c.Adapter != "" {
		parts = append(parts, "adapter "+c.Adapter)
	}
	if c.Simulated {
		parts = append(parts, "SIMULATED")
	}
	return strings.Join(parts, ", ")
}
