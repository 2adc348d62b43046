package object

import (
	"padjig/fixture"
	"padjig/fixture/link"
)

// Ports are the ports that a jig may be on, and what answered there.
type Ports struct {
	Ports []Port `json:"ports"`
}

type Port struct {
	Path      string `json:"path"`
	Maker     string `json:"maker"` // of the adapter or board, as the system says, "" where not known
	Board     string `json:"board"`
	USBSerial string `json:"usb_serial"`
	Asked     bool   `json:"asked"`
	NoJig     string `json:"no_jig"` // why there is none, "" where one answered or nobody asked
	Jig       string `json:"jig"`    // its serial number, "" where none answered
	Model     string `json:"model"`
	Firmware  string `json:"firmware"`
	Adapter   string `json:"adapter"`
	Channels  int    `json:"channels"`
	Actuators int    `json:"actuators"`
	Simulated bool   `json:"simulated"`
}

// PortOf is a port that nobody has asked.
func PortOf(p link.Port) Port {
	return Port{Path: p.Path, Maker: p.Maker, Board: p.Model, USBSerial: p.Serial}
}

// Answered is the port with the jig that answered there.
func (p Port) Answered(c fixture.Capabilities) Port {
	p.Asked, p.Jig, p.Model, p.Firmware, p.Adapter = true, c.Serial, c.Model, c.Firmware, c.Adapter
	p.Channels, p.Actuators, p.Simulated = c.Channels, c.Actuators, c.Simulated
	return p
}

// Silent is the port where no jig answered.
func (p Port) Silent(why string) Port {
	p.Asked, p.NoJig = true, why
	return p
}
