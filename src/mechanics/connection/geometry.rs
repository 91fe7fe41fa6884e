//! From the dimensions of a connection, new or worn, to its critical areas and friction radii.

use std::f64::consts::PI;

use super::catalogue::{ConnectionSpec, ConnectionType, GAUGE_POINT};
use super::error::ConnectionError;
use crate::mechanics::tube::input::{MAX_DIAMETER, Quantity, not_negative, positive};
use crate::mechanics::tube::us::INCH;

/// Distance of the pin's critical section for torque from the shoulder, m: 3/4 in.
const PIN_TORQUE_PLANE: f64 = 0.75 * INCH;
/// Distance of the box's critical section from the shoulder, m: 3/8 in.
const BOX_PLANE: f64 = 0.375 * INCH;

/// Measured (or new) dimensions of a connection, m. What was not measured is nominal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dimensions {
    /// Outside diameter of the box, off the hardband, m.
    pub od: f64,
    /// Bore of the pin, m.
    pub id: f64,
    /// Outside diameter of the pin's shoulder if it differs from the box's, m.
    pub pin_od: Option<f64>,
    /// Bevel diameter, m: the smaller of pin and box.
    pub bevel: Option<f64>,
    /// Counterbore diameter of the box, `Q_c`, m: above nominal when the box has swelled.
    pub counterbore: Option<f64>,
    /// Diameter of the pin's stress-relief groove, `D_RG`, m.
    pub relief_groove: Option<f64>,
    /// Diameter of the box's bore-back cylinder, `D_CB`, m.
    pub bore_back: Option<f64>,
}

impl Dimensions {
    /// Returns dimensions with nothing but outside diameter and bore known, m.
    pub const fn new(od: f64, id: f64) -> Self {
        Self {
            od,
            id,
            pin_od: None,
            bevel: None,
            counterbore: None,
            relief_groove: None,
            bore_back: None,
        }
    }
}

/// A connection with dimensions that fit together, and all that follows from them. SI units.
///
/// Areas after API RP 7G Appendix A (equations on a one-page DS-1 formula sheet and an abstract of
/// the screw-jack paper: published; the planes proved by published tensile values):
///
/// * pin for torque: thread root in the plane 3/4 in from the shoulder, to the bore;
/// * pin for tension: thread root in the plane 5/8 in (the tables' values belong to this plane,
///   although the 2003 addendum's note says 3/4 in);
/// * with a relief groove: groove diameter to the bore in both, and never more than without;
/// * box: outside diameter to the counterbore cone in the plane 3/8 in from the shoulder.
///
/// How recorded wear enters: a **bevel** limits the outer diameter of shoulder contact, and the box
/// section where a 45° bevel is so large that it reaches the 3/8 in plane; a **swelled counterbore**
/// takes box area and contact width (its larger inner contact diameter is *not* credited to the
/// friction radius: a finding must not raise a rating); a **worn pin shoulder** limits contact; a
/// **larger bore** takes pin area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Connection {
    pub connection: ConnectionType,
    pub dimensions: Dimensions,
    /// Diameter of the pin in its torque section (thread root, or groove), m.
    pub pin_diameter: f64,
    /// Pin area for torque, `A_p`, m².
    pub pin_area: f64,
    /// Pin area for tension, m².
    pub pin_tension_area: f64,
    /// The relief groove is the smaller pin section.
    pub groove_governs: bool,
    /// Outside diameter of the box in its section, m.
    pub box_od: f64,
    /// Bore of the box in its section, `Q_c − E`, m.
    pub box_bore: f64,
    /// Box area, `A_b`, m².
    pub box_area: f64,
    /// Box area at the bore-back cylinder, m², if there is one.
    pub bore_back_area: Option<f64>,
    /// Outer diameter of shoulder contact, m.
    pub contact_od: f64,
    /// Inner diameter of shoulder contact: measured counterbore, else nominal, m.
    pub contact_id: f64,
    /// Inner diameter used in the friction radius of the shoulder, m: never above nominal.
    pub friction_id: f64,
    /// Mean thread radius, `R_t`, m.
    pub thread_radius: f64,
    /// Outside diameter at which box and pin areas are equal, m: the cap of `R_s`. Uses the
    /// friction inner diameter, so that swelling does not lift the cap.
    pub equal_area_od: f64,
}

impl Connection {
    /// Returns the connection of a type with these dimensions, or what does not fit.
    pub fn new(
        connection: ConnectionType,
        dimensions: Dimensions,
    ) -> Result<Self, ConnectionError> {
        let spec = connection.spec();
        let name = spec.name;
        let od = positive(Quantity::OutsideDiameter, dimensions.od, MAX_DIAMETER)?;
        let id = not_negative(Quantity::InsideDiameter, dimensions.id, MAX_DIAMETER)?;
        if id >= od {
            return Err(ConnectionError::InsideOverOutside { id, od });
        }
        let optional = |quantity, value: Option<f64>| {
            value.map(|v| positive(quantity, v, MAX_DIAMETER)).transpose()
        };
        let pin_od = optional(Quantity::OutsideDiameter, dimensions.pin_od)?;
        let bevel = optional(Quantity::BevelDiameter, dimensions.bevel)?;
        let groove = optional(Quantity::GrooveDiameter, dimensions.relief_groove)?;
        let bore_back = optional(Quantity::BoreBackDiameter, dimensions.bore_back)?;
        let counterbore = optional(Quantity::Counterbore, dimensions.counterbore)?;
        let contact_id = counterbore.unwrap_or_else(|| spec.counterbore());
        if contact_id >= od {
            return Err(ConnectionError::CounterboreOverOutside {
                connection: name,
                od,
                counterbore: contact_id,
            });
        }
        if contact_id < spec.large_diameter() {
            return Err(ConnectionError::CounterboreUnderPin {
                connection: name,
                counterbore: contact_id,
                pin: spec.large_diameter(),
            });
        }
        let contact_od = od.min(pin_od.unwrap_or(od)).min(bevel.unwrap_or(od));
        if contact_id >= contact_od {
            return Err(ConnectionError::CounterboreOverBevel {
                connection: name,
                bevel: contact_od,
                counterbore: contact_id,
            });
        }

        let root = pin_root(spec, PIN_TORQUE_PLANE);
        let pin_diameter = groove.map_or(root, |g| g.min(root));
        let tension_root = pin_root(spec, GAUGE_POINT);
        let tension_diameter = groove.map_or(tension_root, |g| g.min(tension_root));
        let pin_area = ring(pin_diameter, id);
        if pin_area <= 0.0 {
            return Err(ConnectionError::BoreOverPinRoot {
                connection: name,
                id,
                root: pin_diameter,
            });
        }

        let cone = spec.form.taper() * BOX_PLANE;
        let box_bore = contact_id - cone;
        // A 45° bevel takes as much radius as it goes deep; usual bevels end short of the plane.
        let box_od = bevel.map_or(od, |b| od.min(b + 2.0 * BOX_PLANE));
        let box_area = ring(box_od, box_bore);
        let friction_id = contact_id.min(spec.counterbore());
        let friction_bore = friction_id - cone;
        let equal_area_od = (4.0 / PI * pin_area + friction_bore * friction_bore).sqrt();

        if let Some(d) = bore_back
            && d >= od
        {
            return Err(ConnectionError::BoreBackOverOutside {
                connection: name,
                bore_back: d,
                od,
            });
        }
        let c = spec.pitch_diameter();
        let threaded = spec.pin_length() - GAUGE_POINT;
        Ok(Self {
            connection,
            dimensions,
            pin_diameter,
            pin_area,
            pin_tension_area: ring(tension_diameter, id),
            groove_governs: pin_diameter < root,
            box_od,
            box_bore,
            box_area,
            bore_back_area: bore_back.map(|d| ring(od, d)),
            contact_od,
            contact_id,
            friction_id,
            thread_radius: (c + (c - threaded * spec.form.taper())) / 4.0,
            equal_area_od,
        })
    }

    /// Returns the data of the connection's type.
    pub fn spec(&self) -> &'static ConnectionSpec {
        self.connection.spec()
    }

    /// Returns the width of the shoulder, `(OD − Q_c)/2`, m, to the outside of the box: how the
    /// rejection limits are written.
    pub fn shoulder_width(&self) -> f64 {
        (self.dimensions.od - self.contact_id) / 2.0
    }
}

/// Root diameter of the pin thread where its torque is reckoned, ¾ in from the shoulder, m.
pub fn root_of_pin(connection: ConnectionType) -> f64 {
    pin_root(connection.spec(), PIN_TORQUE_PLANE)
}

/// Root diameter of the pin thread at a distance from the shoulder, m: the root cone is `C − 2
/// (H/2 − S)` at the gauge point and falls with the taper.
pub(crate) fn pin_root(spec: &ConnectionSpec, from_shoulder: f64) -> f64 {
    spec.pitch_diameter()
        - 2.0 * spec.form.dedendum()
        - spec.form.taper() * (from_shoulder - GAUGE_POINT)
}

/// Area between two diameters; negative when the inner one is the larger.
pub(crate) fn ring(outer: f64, inner: f64) -> f64 {
    PI / 4.0 * (outer * outer - inner * inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nc50(change: impl Fn(&mut Dimensions)) -> Result<Connection, ConnectionError> {
        let mut d = Dimensions::new(6.625 * INCH, 3.25 * INCH);
        change(&mut d);
        Connection::new(ConnectionType::Nc50, d)
    }

    #[test]
    fn areas_are_those_of_the_hand_calculation() {
        let c = nc50(|_| ()).unwrap();
        let square_inch = INCH * INCH;
        // C 5.0417, dedendum 0.0700025, taper 1/6: root 4.880862 in at 3/4 in, 4.901695 at 5/8 in.
        assert!((c.pin_diameter / INCH - 4.880861667).abs() < 1e-8);
        assert!((c.pin_area / square_inch - 10.41458).abs() < 1e-4);
        assert!((c.pin_tension_area / square_inch * 120_000.0 - 1_268_962.8).abs() < 0.1);
        assert!((c.box_bore / INCH - 5.25).abs() < 1e-12);
        assert!((c.box_area / square_inch - 12.82409).abs() < 1e-4);
        assert!((c.thread_radius / INCH - (2.0 * 5.0417 - 3.875 / 6.0) / 4.0).abs() < 1e-12);
        assert!(!c.groove_governs);
    }

    #[test]
    fn findings_take_and_never_give() {
        let new = nc50(|_| ()).unwrap();
        let swelled = nc50(|d| d.counterbore = Some(5.375 * INCH)).unwrap();
        assert!(swelled.box_area < new.box_area);
        assert!(swelled.shoulder_width() < new.shoulder_width());
        assert!((swelled.friction_id - new.friction_id).abs() < 1e-15);
        assert!((swelled.equal_area_od - new.equal_area_od).abs() < 1e-15);
        let bevelled = nc50(|d| d.bevel = Some(6.0625 * INCH)).unwrap();
        assert!((bevelled.contact_od / INCH - 6.0625).abs() < 1e-12);
        assert!((bevelled.box_area - new.box_area).abs() < 1e-15, "the bevel ends short of 3/8 in");
        let deep = nc50(|d| d.bevel = Some(5.75 * INCH)).unwrap();
        assert!(deep.box_area < new.box_area);
        let grooved = nc50(|d| d.relief_groove = Some(4.75 * INCH)).unwrap();
        assert!(grooved.groove_governs && grooved.pin_area < new.pin_area);
        let shallow = nc50(|d| d.relief_groove = Some(5.0 * INCH)).unwrap();
        assert!(!shallow.groove_governs);
        assert!((shallow.pin_area - new.pin_area).abs() < 1e-15);
    }

    #[test]
    fn what_does_not_fit_is_named() {
        use ConnectionError as E;
        assert!(matches!(nc50(|d| d.id = 6.7 * INCH), Err(E::InsideOverOutside { .. })));
        assert!(matches!(nc50(|d| d.id = 4.9 * INCH), Err(E::BoreOverPinRoot { .. })));
        assert!(matches!(nc50(|d| d.od = 5.3 * INCH), Err(E::CounterboreOverOutside { .. })));
        assert!(matches!(
            nc50(|d| d.counterbore = Some(6.7 * INCH)),
            Err(E::CounterboreOverOutside { .. })
        ));
        assert!(matches!(
            nc50(|d| d.counterbore = Some(5.2 * INCH)),
            Err(E::CounterboreUnderPin { .. })
        ));
        assert!(matches!(
            nc50(|d| d.bevel = Some(5.3 * INCH)),
            Err(E::CounterboreOverBevel { .. })
        ));
        assert!(matches!(
            nc50(|d| d.bore_back = Some(6.7 * INCH)),
            Err(E::BoreBackOverOutside { .. })
        ));
        assert!(matches!(nc50(|d| d.od = f64::NAN), Err(E::Input(_))));
        assert!(matches!(nc50(|d| d.id = -0.01), Err(E::Input(_))));
        let bore = nc50(|d| d.id = 4.9 * INCH).unwrap_err().to_string();
        assert!(bore.contains("NC50") && bore.contains("leaves no pin"), "{bore}");
    }
}
