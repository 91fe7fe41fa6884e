//! What a joint's connections are good for on a day: limits of the tool joint by class, and the
//! make-up torque that its dimensions ask for.

use std::cell::RefCell;

use crate::condition::{ConnectionLimit, ConnectionLimits, WeakPin};
use crate::mechanics::connection::{
    Connection, ConnectionError, ConnectionType, Dimensions, MinOdRule, TorqueBasis, minimum_od,
};
use crate::mechanics::tube::{Body, Grade, TubeClass, Wear};
use crate::model::{Class, Component, JointBody, Provenance, ReadingKind};
use crate::units::Measure;

use super::dims::Nominal;

fn metres(nm: i64) -> f64 {
    nm as f64 * 1e-9
}

fn nanometres(m: f64) -> Option<i64> {
    Measure::Diameter.store_f64(m)
}

/// The connection type that a certificate names; `None` for one that nobody rates here.
pub fn connection_type(name: Option<&str>) -> Option<ConnectionType> {
    name?.parse().ok()
}

/// Least diameters and shoulders of the tool joint by class, from the tube that it is on; `None`
/// for connections and tubes that the rule does not cover.
///
/// API RP 7G, the rule behind its Table 10: the box carries at least 80 % of the torsional yield of
/// the tube in its class (computed; the table itself was not read).
pub fn limits(
    body: &JointBody,
    nominal: &Nominal,
    connection: Option<&str>,
) -> Option<ConnectionLimits> {
    if !matches!(body.component, Component::DrillPipe | Component::Pup) {
        return None;
    }
    let (grade, connection) = (body.grade.as_deref()?, connection?);
    let sizes = [nominal.od?, nominal.wall?, nominal.tj_id?];
    KNOWN.with_borrow_mut(|known| {
        let same = |k: &&Known| k.sizes == sizes && k.grade == grade && k.connection == connection;
        if let Some(found) = known.iter().find(same) {
            return found.limits.clone();
        }
        let limits = worked_out(sizes, grade, connection);
        if known.len() == MOST_KNOWN {
            known.clear();
        }
        known.push(Known {
            sizes,
            grade: grade.to_owned(),
            connection: connection.to_owned(),
            limits: limits.clone(),
        });
        limits
    })
}

/// Limits of one size of tube and tool joint. A fleet has few sizes, each joint asks at every
/// inspection, and the search for a least diameter is a seventh of the work of a fold.
struct Known {
    sizes: [i64; 3],
    grade: String,
    connection: String,
    limits: Option<ConnectionLimits>,
}

/// Sizes kept at once, by each thread.
const MOST_KNOWN: usize = 64;

thread_local! {
    static KNOWN: RefCell<Vec<Known>> = const { RefCell::new(Vec::new()) };
}

fn worked_out([od, wall, id]: [i64; 3], grade: &str, connection: &str) -> Option<ConnectionLimits> {
    let connection = connection_type(Some(connection))?;
    let grade: Grade = grade.parse().ok()?;
    let tube = Body::new(metres(od), metres(wall)).ok()?;
    let classes = [
        (Class::Critical, Wear::Fraction(0.875)),
        (Class::Premium, Wear::Class(TubeClass::Premium)),
        (Class::Class2, Wear::Class(TubeClass::Class2)),
    ];
    let rows: Vec<ConnectionLimit> = classes
        .into_iter()
        .filter_map(|(class, wear)| {
            let torsion = tube.worn(wear).ok()?.ratings(grade.min_yield()).ok()?.torsion;
            let least = minimum_od(connection, metres(id), torsion, MinOdRule::default()).ok()?;
            Some(ConnectionLimit {
                class,
                min_od: nanometres(least.od)?,
                min_shoulder: nanometres(least.shoulder),
                min_shoulder_eccentric: nanometres(least.eccentric_shoulder),
                // Table 10 has new pipe, Premium and Class 2.
                carried_over: class == Class::Critical,
            })
        })
        .collect();
    (!rows.is_empty()).then(|| ConnectionLimits {
        rows,
        standard: "API RP 7G".to_owned(),
        edition: "16th ed. 1998".to_owned(),
        source: "rule of Table 10: box torque at least 80 % of the tube's in its class, computed"
            .to_owned(),
        provenance: Provenance::Computed,
    })
}

/// The pin where its bore was read over nominal and what is left of it carries too little of the
/// tube's torque in its class; `None` where it carries enough, is as made, or cannot be rated.
pub fn weak_pin(
    body: &JointBody,
    nominal: &Nominal,
    bore: Option<i64>,
    class: Option<Class>,
) -> Option<WeakPin> {
    if !matches!(body.component, Component::DrillPipe | Component::Pup) {
        return None;
    }
    let (bore, made) = (bore?, nominal.tj_id?);
    if bore - made <= ReadingKind::JointId.repeats_within() {
        return None;
    }
    let class = class.unwrap_or(Class::Class2);
    let wear = match class {
        Class::Critical => Wear::Fraction(0.875),
        Class::Premium => Wear::Class(TubeClass::Premium),
        Class::Class2 | Class::Class3 | Class::Scrap => Wear::Class(TubeClass::Class2),
    };
    let connection = connection_type(body.connection.as_deref())?;
    let grade: Grade = body.grade.as_deref()?.parse().ok()?;
    let tube = Body::new(metres(nominal.od?), metres(nominal.wall?)).ok()?;
    let torsion = tube.worn(wear).ok()?.ratings(grade.min_yield()).ok()?.torsion;
    let rule = MinOdRule::default();
    let dimensions = Dimensions::new(metres(nominal.tj_od?), metres(bore));
    let share = match Connection::new(connection, dimensions).and_then(|c| c.torque(rule.basis)) {
        Ok(rating) => rating.pin_torque / torsion,
        // Its bore leaves no metal at the root of the thread.
        Err(ConnectionError::BoreOverPinRoot { .. }) => 0.0,
        Err(_) => return None,
    };
    let weak = WeakPin { bore, nominal: made, share, least: rule.ratio, class };
    (share < rule.ratio).then_some(weak)
}

/// Dimensions of an end on a day, nm; what was not measured is nominal.
#[derive(Clone, Copy, Debug, Default)]
pub struct EndDimensions {
    /// Outside diameter.
    pub od: Option<i64>,
    /// Bore of the pin.
    pub id: Option<i64>,
    /// Counterbore, where it was read.
    pub counterbore: Option<i64>,
}

/// Make-up torque of an end, in quanta of a torque, times the compound's friction factor (as
/// API RP 7A1 applies it); `None` for what nobody rates here.
pub fn makeup_torque(
    component: Component,
    connection: Option<&str>,
    dimensions: &EndDimensions,
    friction_factor: f64,
) -> Option<i64> {
    let connection = connection_type(connection)?;
    let mut d = Dimensions::new(metres(dimensions.od?), metres(dimensions.id?));
    d.counterbore = dimensions.counterbore.map(metres);
    let basis = match component {
        Component::DrillPipe | Component::Pup => TorqueBasis::tool_joint_makeup(),
        _ => TorqueBasis::collar_makeup(connection),
    };
    let rating = Connection::new(connection, d).ok()?.torque(basis).ok()?;
    Measure::Torque.store_f64(rating.torque * friction_factor)
}
