//! What can be typed after `rate`.

use clap::{Args, Subcommand};

/// Ratings: tube, connection, bend, a joint of the book, the string of a run, stretch, crack growth
///
/// Example: pipelore rate joint K1-0417
#[derive(Debug, Args)]
pub(in crate::cli) struct RateArgs {
    #[command(subcommand)]
    pub(super) what: Rate,
}

/// What is rated.
#[derive(Debug, Subcommand)]
pub(super) enum Rate {
    Tube(TubeArgs),
    Connection(ConnectionArgs),
    Dogleg(DoglegArgs),
    Joint(JointArgs),
    Run(RunArgs),
    Stretch(StretchArgs),
    Crack(CrackArgs),
}

/// A measured wall.
#[derive(Debug, Args)]
pub(super) struct Measured {
    /// Smallest wall that was measured
    #[arg(long, value_name = "LENGTH")]
    pub measured_wall: Option<String>,
    /// Outside diameter of the body that was measured
    #[arg(long, value_name = "LENGTH")]
    pub measured_od: Option<String>,
}

/// Surroundings that can make figures invalid.
#[derive(Debug, Args)]
pub(super) struct Around {
    /// Hydrogen sulphide is there: flags what does not hold
    #[arg(long)]
    pub sour: bool,
    /// Highest temperature of the pipe, like "150 degC": flags what does not hold
    #[arg(long, value_name = "TEMPERATURE")]
    pub temperature: Option<String>,
}

/// Ratings of a tube by class and for a measured wall
///
/// Example: pipelore rate tube 5 in 19.50 lb/ft G-105 --tension "150 klbf"
#[derive(Debug, Args)]
pub(super) struct TubeArgs {
    /// The tube: diameter, weight or wall, grade ("127 mm, wall 9.19 mm, S-135")
    #[arg(value_name = "TUBE", required = true)]
    pub tube: Vec<String>,
    /// Only these classes (new, premium, class 2), with commas between
    #[arg(long, value_name = "CLASSES")]
    pub class: Option<String>,
    #[command(flatten)]
    pub measured: Measured,
    /// Pull on the tube
    #[arg(long, value_name = "FORCE", allow_hyphen_values = true)]
    pub tension: Option<String>,
    /// Torque on the tube
    #[arg(long, value_name = "TORQUE")]
    pub torque: Option<String>,
    /// Mud that a string of it hangs in: adds the longest string
    #[arg(long, value_name = "DENSITY")]
    pub mud: Option<String>,
    /// Length of the slips [default: 16 in]
    #[arg(long, value_name = "LENGTH")]
    pub slip_length: Option<String>,
    /// Friction between slips and bowl [default: 0.08]
    #[arg(long, value_name = "NUMBER")]
    pub slip_friction: Option<f64>,
    #[command(flatten)]
    pub around: Around,
}

/// Torque, make-up and pull of a rotary shouldered connection
///
/// Example: pipelore rate connection NC50 --od "6 5/8 in" --id "3 1/4 in" --tube "5 in 19.50 lb/ft G-105"
#[derive(Debug, Args)]
pub(super) struct ConnectionArgs {
    /// Name: NC50, 4 1/2 IF, 6 5/8 REG …
    #[arg(value_name = "CONNECTION", required = true)]
    pub connection: Vec<String>,
    /// Outside diameter of the box
    #[arg(long, value_name = "LENGTH")]
    pub od: String,
    /// Bore of the pin
    #[arg(long, value_name = "LENGTH")]
    pub id: String,
    /// Outside diameter of the pin's shoulder, where it differs
    #[arg(long, value_name = "LENGTH")]
    pub pin_od: Option<String>,
    /// Bevel diameter, the smaller of pin and box
    #[arg(long, value_name = "LENGTH")]
    pub bevel: Option<String>,
    /// Counterbore diameter as measured
    #[arg(long, value_name = "LENGTH")]
    pub counterbore: Option<String>,
    /// Stress-relief groove of the pin, or "standard"
    #[arg(long, value_name = "LENGTH")]
    pub relief_groove: Option<String>,
    /// Bore-back cylinder of the box, or "standard"
    #[arg(long, value_name = "LENGTH")]
    pub bore_back: Option<String>,
    /// Friction factor of the thread compound, as on the drum (API RP 7A1)
    #[arg(long, value_name = "NUMBER")]
    pub friction_factor: Option<f64>,
    /// What it is on: pipe, heavy-weight or collar [default: pipe]
    #[arg(long, value_name = "COMPONENT")]
    pub on: Option<String>,
    /// Tube that it is on: adds torsional ratio and least diameters
    #[arg(long, value_name = "TUBE")]
    pub tube: Option<String>,
    #[command(flatten)]
    pub measured: Measured,
    /// A make-up torque to judge, and to hold pull against
    #[arg(long, value_name = "TORQUE")]
    pub makeup: Option<String>,
    /// Minimum yield of the connection's steel, where it is not the usual one
    #[arg(long = "yield", value_name = "STRESS")]
    pub yield_strength: Option<String>,
}

/// Sharpest bend without fatigue, and what turning in a bend costs
///
/// Example: pipelore rate dogleg 5 in 19.50 lb/ft G-105 --tension "100 klbf" --dogleg "6 deg/100ft"
#[derive(Debug, Args)]
pub(super) struct DoglegArgs {
    /// The tube: diameter, weight or wall, grade; not needed with --run
    #[arg(value_name = "TUBE", required_unless_present = "run")]
    pub tube: Vec<String>,
    /// Only these classes (new, premium, class 2), with commas between
    #[arg(long, value_name = "CLASSES")]
    pub class: Option<String>,
    #[command(flatten)]
    pub measured: Measured,
    /// Effective tension in the bend; compression is negative
    #[arg(long, value_name = "FORCE", allow_hyphen_values = true, conflicts_with = "run")]
    pub tension: Option<String>,
    /// A bend to turn in
    #[arg(long, value_name = "DOGLEG")]
    pub dogleg: Option<String>,
    /// Take tube, tension, bend and mud from a run of the book
    #[arg(long, value_name = "RUN", requires = "at")]
    pub run: Option<String>,
    /// Depth in that run's hole
    #[arg(long, value_name = "DEPTH", requires = "run")]
    pub at: Option<String>,
    /// Depth of the bit in that run [default: its deepest]
    #[arg(long, value_name = "DEPTH", requires = "run")]
    pub bit: Option<String>,
    /// Diameter of the tool joints: counts contact of the tube with the wall
    #[arg(long, value_name = "LENGTH")]
    pub tool_joint: Option<String>,
    /// Length of a joint [default: 30 ft]
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// What the mud does to fatigue: air, protected or corrosive [default: air, or the run's]
    #[arg(long, value_name = "WORD")]
    pub environment: Option<String>,
    /// S–N curve by name [default: the book's for that environment]
    #[arg(long, value_name = "CURVE")]
    pub curve: Option<String>,
    /// Mean-stress rule: none, goodman, gerber, soderberg or morrow [default: the book's]
    #[arg(long, value_name = "RULE")]
    pub mean_stress: Option<String>,
    /// Turns to price
    #[arg(long, value_name = "NUMBER", default_value = "1000")]
    pub turns: f64,
    /// Rotary speed: adds hours
    #[arg(long, value_name = "SPEED")]
    pub speed: Option<String>,
    /// Depth of a slip cut or pit
    #[arg(long, value_name = "LENGTH")]
    pub cut: Option<String>,
    /// Root radius of that cut
    #[arg(long, value_name = "LENGTH", requires = "cut")]
    pub root_radius: Option<String>,
    /// Side force on a tool joint that limits the bend too [default: 2000 lbf]
    #[arg(long, value_name = "FORCE")]
    pub side_force: Option<String>,
    #[command(flatten)]
    pub around: Around,
}

/// Everything that a joint of the book is good for, from its latest dimensions
///
/// Example: pipelore rate joint K1-0417
#[derive(Debug, Args)]
pub(super) struct JointArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    pub serial: String,
    /// Root radius taken for open cuts and pits [default: 0.5 mm]
    #[arg(long, value_name = "LENGTH")]
    pub root_radius: Option<String>,
}

/// What the string of a run carries at one bit depth, and whether the log's hook load agrees
///
/// Example: pipelore rate run K1-R05
#[derive(Debug, Args)]
pub(super) struct RunArgs {
    /// Name of the run
    #[arg(value_name = "RUN")]
    pub run: String,
    /// Depth of the bit [default: the run's deepest]
    #[arg(long, value_name = "DEPTH")]
    pub bit: Option<String>,
    /// Friction factor in open hole [default: the run's]
    #[arg(long, value_name = "NUMBER")]
    pub friction: Option<f64>,
    /// Friction factor in casing and riser [default: that of the open hole]
    #[arg(long, value_name = "NUMBER")]
    pub friction_cased: Option<f64>,
    /// Weight on bit [default: the log's at that depth]
    #[arg(long, value_name = "FORCE")]
    pub wob: Option<String>,
    /// Torque at the bit [default: none]
    #[arg(long, value_name = "TORQUE")]
    pub bit_torque: Option<String>,
    /// Block and top drive on the hook [default: the run's]
    #[arg(long, value_name = "FORCE")]
    pub block: Option<String>,
    /// Mud weight inside and outside [default: the run's]
    #[arg(long, value_name = "DENSITY")]
    pub mud: Option<String>,
    /// Spacing of the rows
    #[arg(long, value_name = "LENGTH")]
    pub every: Option<String>,
}

/// Stretch and twist of a tube or of a run's string, and its free length from a pull test
///
/// Example: pipelore rate stretch 5 in 19.50 lb/ft G-105 --length "8500 ft" --tension "100 klbf"
#[derive(Debug, Args)]
pub(super) struct StretchArgs {
    /// The tube: diameter, weight or wall, grade; not needed with --run
    #[arg(value_name = "TUBE", required_unless_present = "run", conflicts_with = "run")]
    pub tube: Vec<String>,
    /// Only these classes (new, premium, class 2), with commas between
    #[arg(long, value_name = "CLASSES")]
    pub class: Option<String>,
    #[command(flatten)]
    pub measured: Measured,
    /// Take the string of a run of the book, with the sections of its joints on that day
    #[arg(long, value_name = "RUN")]
    pub run: Option<String>,
    /// Depth of the bit in that run [default: its deepest]
    #[arg(long, value_name = "DEPTH", requires = "run")]
    pub bit: Option<String>,
    /// Depth to which that string is free [default: the bit]
    #[arg(long, value_name = "DEPTH", requires = "run")]
    pub at: Option<String>,
    /// Length of the tube
    #[arg(long, value_name = "LENGTH", conflicts_with = "run")]
    pub length: Option<String>,
    /// Pull beyond the weight of the string
    #[arg(long, value_name = "FORCE", allow_hyphen_values = true)]
    pub tension: String,
    /// Torque
    #[arg(long, value_name = "TORQUE")]
    pub torque: Option<String>,
    /// Stretch that was measured under that pull: adds the free length
    #[arg(long, value_name = "LENGTH")]
    pub stretch: Option<String>,
}

/// How long a crack that an inspection may miss takes to grow through the wall
///
/// Example: pipelore rate crack --depth "1 mm" --wall "0.362 in" --bending "15 ksi"
/// Of a joint of the book, by its own runs since it was last searched:
/// pipelore rate crack --joint K1-0417 --depth "1 mm"
#[derive(Debug, Args)]
pub(super) struct CrackArgs {
    /// Depth of the crack
    #[arg(long, value_name = "LENGTH")]
    pub depth: String,
    /// Joint of the book: growth by the stress of its own runs, in place of one stress
    #[arg(long, value_name = "SERIAL", conflicts_with_all = ["bending", "speed"])]
    pub joint: Option<String>,
    /// Place on that joint: pin end, middle or box end [default: the one with most damage]
    #[arg(long, value_name = "PLACE", requires = "joint")]
    pub at: Option<String>,
    /// Since this day [default: the last search for cracks of that place]
    #[arg(long, value_name = "DATE", requires = "joint")]
    pub since: Option<String>,
    /// Depth to which it grows: the wall [default: that of the joint]
    #[arg(long, value_name = "LENGTH", required_unless_present = "joint")]
    pub wall: Option<String>,
    /// Bending stress at the crack, as `rate dogleg` gives it, times its notch
    #[arg(long, value_name = "STRESS", required_unless_present = "joint")]
    pub bending: Option<String>,
    /// Geometry factor Y of the stress intensity [default: 0.73, a shallow half-round crack]
    #[arg(long, value_name = "NUMBER")]
    pub shape: Option<f64>,
    /// Rotary speed: adds hours
    #[arg(long, value_name = "SPEED")]
    pub speed: Option<String>,
    /// Only growth laws whose name begins like this
    #[arg(long, value_name = "LAW")]
    pub law: Option<String>,
    #[command(flatten)]
    pub around: Around,
}
