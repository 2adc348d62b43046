package object

import (
	"maps"
	"time"

	"padjig/fixture/jigtest"
	"padjig/fixture/wire"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/sequence"
)

// Conformance is what --json prints.
type Conformance struct {
	Jig       string            `json:"jig"`
	Model     string            `json:"model"`
	Firmware  string            `json:"firmware"`
	Simulated bool              `json:"simulated"`
	Stated    JigStated         `json:"stated"` // how well it says that it measures, beyond what its readings show
	OK        int               `json:"ok"`
	Broken    int               `json:"broken"`
	Omitted   int               `json:"omitted"`
	Retried   int               `json:"retried"` // of all of these, how many did not come out so at once
	Cases     []ConformanceCase `json:"cases"`
}

// JigStated is what a jig states of its reference voltage, converter, inputs and references.
type JigStated struct {
	Vref  float64 `json:"vref_volt"`
	UVref float64 `json:"u_vref_volt"`
	Bend  uint32  `json:"bend_ppm"`          // of Vref, at the most
	UBias uint32  `json:"u_bias_picoampere"` // of the current of one input
	Drift uint32  `json:"drift_ppm"`         // of all references together between verifications, at the most
}

type ConformanceCase struct {
	Chapter string   `json:"chapter"`
	Case    string   `json:"case"`
	Rule    string   `json:"rule"`
	Outcome string   `json:"outcome"`
	Saw     string   `json:"saw"`
	Try     int      `json:"try"`               // the one that decided, from 1
	Earlier []string `json:"earlier,omitempty"` // what was seen in the tries before it
	Again   []string `json:"again,omitempty"`   // what was done more than once within it
	Seconds float64  `json:"seconds"`
}

func ConformanceOf(r jigtest.Report) Conformance {
	id := r.Identity
	return Conformance{
		Jig: id.Serial, Model: id.Model, Firmware: id.Firmware,
		Simulated: id.Features.Has(wire.FeatureSimulated),
		Stated: JigStated{Vref: float64(id.VrefMicroVolt) * 1e-6, UVref: float64(id.VrefMicroVolt) * float64(id.VrefPPM) * 1e-12,
			Bend: id.BendPPM, UBias: id.BiasPicoAmpere, Drift: id.DriftPPM},
		OK: r.Count(jigtest.Kept), Broken: r.Count(jigtest.Broken), Omitted: r.Count(jigtest.Omitted), Retried: r.Retried(),
		Cases: each(r.Findings, func(f jigtest.Finding) ConformanceCase {
			return ConformanceCase{f.Chapter, f.Name, f.Rule, string(f.Outcome), f.Saw, f.Try(), f.Earlier, f.Again, f.Took.Seconds()}
		}),
	}
}

type Calibrations struct {
	Jig          string        `json:"jig"`
	Zero         string        `json:"zero"` // "good", "due soon", "overdue", "out of tolerance", "never"
	Verify       string        `json:"verify"`
	Calibrations []Calibration `json:"calibrations"`
}

type Calibration struct {
	Calibration string               `json:"calibration"`
	Kind        string               `json:"kind"`
	Performed   string               `json:"performed"` // RFC 3339, UTC
	Due         string               `json:"due"`
	Operator    string               `json:"operator"`
	Simulated   bool                 `json:"simulated"`
	Box         string               `json:"box"`
	BoxSerial   string               `json:"box_serial"`
	Certificate string               `json:"certificate"`
	Good        bool                 `json:"good"`
	Reason      string               `json:"reason"`
	Readings    []CalibrationReading `json:"readings"`
}

type CalibrationReading struct {
	Channel    int     `json:"channel"`
	Mate       int     `json:"mate"` // 0 for a zero
	Resistor   string  `json:"resistor"`
	Reference  float64 `json:"reference_ohm"`
	Certified  float64 `json:"certified_ohm"`
	Ohm        float64 `json:"ohm"`
	U          float64 `json:"u_ohm"`
	Deviation  float64 `json:"deviation_ohm"`
	DeviationU float64 `json:"deviation_u_ohm"`
	Limit      float64 `json:"limit_ohm"`
	Good       bool    `json:"good"`
}

func CalibrationsOf(jig string, d care.DueState, list []care.StoredCalibration) Calibrations {
	return Calibrations{jig, string(d.Zero.Status), string(d.Verify.Status), each(list, CalibrationOf)}
}

func CalibrationOf(c care.StoredCalibration) Calibration {
	return Calibration{
		Calibration: c.ID.String(), Kind: string(c.Kind), Performed: c.Performed.Format(time.RFC3339Nano),
		Due: c.Due().Format(time.RFC3339Nano), Operator: c.Operator, Simulated: c.Simulated, Box: c.Box,
		BoxSerial: c.BoxSerial, Certificate: c.Certificate, Good: c.Good, Reason: c.Reason,
		Readings: each(c.Readings, func(r sequence.CalibrationReading) CalibrationReading {
			return CalibrationReading{
				r.Channel, r.Mate, r.Resistor, float64(r.Reference), float64(r.Certified.Value), float64(r.Measured.Value),
				float64(r.Measured.U), float64(r.Deviation.Value), float64(r.Deviation.U), float64(r.Limit), r.Good,
			}
		}),
	}
}

type Suspects struct {
	Jig     string    `json:"jig"`
	Since   string    `json:"since"` // of the first window, as there
	Units   []Suspect `json:"units"` // of the first window
	Windows []Window  `json:"windows"`
}

type Window struct {
	Number int                  `json:"number"`
	Open   bool                 `json:"open"`
	Since  string               `json:"since"` // the last good verification before, RFC 3339, UTC; empty for none
	Failed []FailedVerification `json:"failed"`
	Until  string               `json:"until"` // the good verification that ended it; empty while open
	Units  []Suspect            `json:"units"`
	Lots   []LotUnits           `json:"lots"` // of material, of the units
}

type LotUnits struct {
	Material string `json:"material"`
	Lot      string `json:"lot"`
	Units    int    `json:"units"`
}

type FailedVerification struct {
	Number int64  `json:"number"` // of the calibration
	At     string `json:"at"`
	Reason string `json:"reason"`
}

type Suspect struct {
	Serial  string     `json:"serial"`
	Product string     `json:"product"`
	Runs    int        `json:"runs"`
	Outcome string     `json:"outcome"` // of the last run
	Key     string     `json:"key"`
	Closed  float64    `json:"closed_ohm"`
	Limit   float64    `json:"limit_ohm"`
	OfLimit float64    `json:"margin_of_limit"` // corrected by what failed verifications found
	OfU     float64    `json:"margin_of_u"`     // likewise, in expanded uncertainties, k = 2
	AsRead  float64    `json:"margin_as_read_of_limit"`
	Cleared *Clearance `json:"cleared"`
	Lots    floor.Lots `json:"lots"`  // of material, by kind
	Where   string     `json:"where"` // "shipped" or "in stock", as it was last recorded; empty: nothing was
	Shipped *Shipment  `json:"shipped"`
}

type Shipment struct {
	At        string `json:"at"` // RFC 3339, UTC
	By        string `json:"by"`
	Consignee string `json:"consignee"`
}

type Clearance struct {
	Run string `json:"run"`
	Jig string `json:"jig"`
	At  string `json:"at"`
}

func SuspectsOf(jig string, all []care.Window) Suspects {
	o := Suspects{Jig: jig}
	for _, w := range all {
		o.Windows = append(o.Windows, WindowOf(w))
	}
	o.Since, o.Units = o.Windows[0].Since, o.Windows[0].Units
	return o
}

func WindowOf(w care.Window) Window {
	at := func(c *care.StoredCalibration) string {
		if c == nil {
			return ""
		}
		return c.Performed.Format(time.RFC3339Nano)
	}
	o := Window{Number: w.Number, Open: w.Open(), Since: at(w.Since), Until: at(w.Until),
		Failed: []FailedVerification{}, Units: []Suspect{}, Lots: []LotUnits{}}
	for _, l := range w.Lots() {
		o.Lots = append(o.Lots, LotUnits(l))
	}
	for i := range w.Failed {
		o.Failed = append(o.Failed, FailedVerification{w.Failed[i].Seq, at(&w.Failed[i]), w.Failed[i].Reason})
	}
	for _, u := range w.Units {
		o.Units = append(o.Units, SuspectOf(u))
	}
	return o
}

func SuspectOf(u care.Suspect) Suspect {
	o := Suspect{Serial: u.Serial, Product: u.Product, Runs: u.Runs, Outcome: string(u.Outcome), Key: u.Key, Lots: floor.Lots{}}
	maps.Copy(o.Lots, u.Lots)
	if s := u.Shipment; s != nil {
		o.Where = s.Where()
	}
	if s := u.Shipment; u.Left() {
		o.Shipped = &Shipment{At: s.At.Format(time.RFC3339Nano), By: s.By, Consignee: s.Consignee}
	}
	if u.Key != "" {
		o.Closed, o.Limit, o.OfLimit, o.OfU = float64(u.Closed), float64(u.Limit), u.OfLimit(), u.OfU()
		o.AsRead = float64(u.Margin / u.Limit)
	}
	if c := u.Cleared; c != nil {
		o.Cleared = &Clearance{c.Run.String(), c.Jig, c.At.Format(time.RFC3339Nano)}
	}
	return o
}

type Wear struct {
	Jig   string `json:"jig"`
	Parts []Part `json:"parts"`
}

type Part struct {
	Part       string `json:"part"`
	Uses       int    `json:"uses"`
	Warn       *int   `json:"warn"`
	Block      *int   `json:"block"`
	Replaced   string `json:"replaced"` // RFC 3339, UTC; empty for never
	ReplacedBy string `json:"replaced_by"`
	Before     int    `json:"uses_before"` // of uses: in other places, or here before it was taken out
	Name       string `json:"name"`        // of what was put in, its own; empty for none, as the next
	Lot        string `json:"lot"`
	Tip        string `json:"tip"`
	Serves     []int  `json:"serves"` // channels from 1; none: all
}

func PartOf(w care.PartWear) Part {
	o := Part{Part: w.Part, Uses: w.Uses, Before: w.Before, Serves: []int{}}
	if w.Block > 0 {
		o.Warn, o.Block = new(w.Warn), new(w.Block)
	}
	if w.Replaced != nil {
		o.Replaced, o.ReplacedBy = w.Replaced.At.Format("2006-01-02T15:04:05Z"), w.Replaced.By
		o.Name, o.Lot, o.Tip, o.Serves = w.Replaced.Name, w.Replaced.Lot, w.Replaced.Tip, append(o.Serves, w.Replaced.Serves...)
	}
	return o
}

type References struct {
	Jig     string          `json:"jig"`
	Product string          `json:"product"`
	Demand  string          `json:"demand"`
	Units   []ReferenceUnit `json:"units"`
}

type ReferenceUnit struct {
	Unit  string `json:"unit"`
	Must  string `json:"must"`
	Last  string `json:"last"` // RFC 3339, UTC; empty for never
	Good  bool   `json:"good"`
	Since int    `json:"since"` // units since
	Runs  int    `json:"runs"`  // tests of it on any jig
	Due   string `json:"due"`   // why it must be tested now, empty if it need not
}
