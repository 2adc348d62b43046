package quality

import (
	"padjig/results/answers/probes"
	"padjig/results/answers/units"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// probesPage shows which probes of the jigs stand out.
func probesPage(s *study) error {
	p, err := probes.AskProbes(s.ctx, s.store, probes.ProbesAsked{Selection: s.about()})
	if err != nil {
		return err
	}
	title := s.Say("probes.title")
	t := s.TableOf(report.ProbeTable(p), title)
	for i, r := range p.Rows {
		t.Rows[i][0].Mark = len(r.Why) > 0
	}
	t.Open = true
	s.add(figure{Title: title, Says: tell(s.Words, p.Conclusions), Table: t,
		Chart: report.ProbesChart(p, s.frame("probes", title, s.Say("probes.desc"), 1000, 0), chart.Axis{Label: s.Say("probes.axis"), Most: 100},
			func(r probes.Probe) (tip, link string) { return probeTip(s, r), doubtfulAt(s, r) })})
	s.show(s.Say("probes.tail.title"), report.TailTable(p), false)
	s.show(s.Say("probes.changes.title"), report.TipTable(p), true)
	return nil
}

// probeTip says what is known of a probe.
func probeTip(s *study, r probes.Probe) string {
	return s.Say("probes.tip", r.Jig, r.Channel, r.Line) + "\n" + report.Part(s.Lang, r.Bad) + "\n" +
		s.Say("probes.tip.units", report.Whole(r.BadUnits), report.Whole(r.Units))
}

// doubtfulAt is the address of the units that had doubtful contact at a probe; empty where
// there are none.
func doubtfulAt(s *study, r probes.Probe) string {
	if r.BadUnits == 0 {
		return ""
	}
	b := units.Everything()
	b.Pin, b.On, b.Since, b.Until = r.Channel, r.Jig, r.Runs[0], r.Runs[1]
	return unitsBehind(s, b)
}
