package main

const usage = `Runs the whole suite in one process from one folder: deploy/up for a real cooperative, deploy/demo for an invented one.

`

// settingsHelp goes with --help. What it shows is loaded by a test.
const settingsHelp = `
The settings of a real cooperative are in settings.json in its folder, made at the first start. Change it while the suite is
stopped; a start says what is wrong with it, all at once. To connect the indicator of a scale, enter the scale on the pages
first and add its id under dock.indicators; payment files need the bank under office:

` + settingsExample + `
"address" is tcp://host:port or serial:///dev/ttyUSB0?baud=9600&parity=none&data=8&stop=1. "pattern" is a regular expression
for one line as the indicator sends it in continuous output: the group weight is required, unit, stable (the mark of motion)
and gross (the mark of gross or net) where the line has them; the texts say what each mark means. Copy a line off the cable
before writing it, and try it with every state of the scale: still, moving, empty, overloaded, another unit, net.
"go run ./deploy/scalesim/cmd/scalesim" plays a scale this example reads.

A scale with an indicator wants each weight taken from it ("capture_age": for how long one may be used); a weight typed by hand
needs a reason and is counted by person. "retention_days" is for how many days sample portions a (laboratory), b (member) and
c (referee) are kept; the law and the time for appeals decide how few are too few.
`

const settingsExample = `  {
    "cooperative": {"name": "Fallow Creek Honey Cooperative", "site": "FC", "unit": "LB", "currency": "USD", "time_zone": "America/Chicago"},
    "administrator": "admin",
    "dock": {
      "indicators": {
        "1": {
          "address": "tcp://127.0.0.1:7301",
          "pattern": "(?P<stable>[SMOU]) (?P<gross>[GN]) (?P<weight>[-+_ 0-9.]{10}) (?P<unit>[a-z]{2})",
          "stable_texts": ["S"], "motion_texts": ["M"], "over_range_texts": ["O"], "under_load_texts": ["U"],
          "gross_texts": ["G"], "net_texts": ["N"]
        }
      },
      "capture_age": "5m",
      "retention_days": {"a": 180, "b": 365, "c": 365}
    },
    "office": {
      "bank": {"name": "Fallow Creek Honey", "routing_number": "021000021", "bank_name": "First Valley Bank", "company_id": "1234567890"},
      "referee_fee": {"amount": "85.00", "authority": "House rules of appeals, rule 4"},
      "contact": {"postal_address": "14 Mill Road, Fallow Creek", "telephone": "555-0142", "email": "office@fallowcreek.example"}
    }
  }
`
