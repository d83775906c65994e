# The libraries dryfront stands on, gathered in dryfront_dependencies.
find_package(PkgConfig REQUIRED)
pkg_check_modules(YAML REQUIRED IMPORTED_TARGET yaml-0.1)
pkg_check_modules(JANSSON REQUIRED IMPORTED_TARGET jansson)
pkg_check_modules(CAIRO REQUIRED IMPORTED_TARGET cairo-svg pangocairo)
# Of the server alone.
pkg_check_modules(MICROHTTPD REQUIRED IMPORTED_TARGET libmicrohttpd)
find_package(Threads REQUIRED)

# SUNDIALS by its libraries: what its package config offers differs from one distribution to the next.
find_path(SUNDIALS_INCLUDE_DIR cvode/cvode.h REQUIRED)
set(sundials_libraries "")
foreach(part IN ITEMS cvode ida nvecserial sunmatrixdense sunmatrixband sunlinsoldense sunlinsolband)
  find_library(SUNDIALS_${part}_LIBRARY sundials_${part} REQUIRED)
  list(APPEND sundials_libraries "${SUNDIALS_${part}_LIBRARY}")
endforeach()
find_library(SUNDIALS_generic_LIBRARY sundials_generic)
if(SUNDIALS_generic_LIBRARY)
  list(APPEND sundials_libraries "${SUNDIALS_generic_LIBRARY}")
endif()
file(STRINGS "${SUNDIALS_INCLUDE_DIR}/sundials/sundials_config.h" sundials_version
  REGEX "#define SUNDIALS_VERSION_MAJOR")
if(NOT sundials_version MATCHES "MAJOR +6")
  message(WARNING "dryfront is written against SUNDIALS 6; found: ${sundials_version}")
endif()

add_library(dryfront_dependencies INTERFACE)
target_include_directories(dryfront_dependencies SYSTEM INTERFACE "${SUNDIALS_INCLUDE_DIR}")
target_link_libraries(dryfront_dependencies INTERFACE PkgConfig::YAML PkgConfig::JANSSON PkgConfig::CAIRO
  ${sundials_libraries} Threads::Threads m)

# Many runs side by side; without it they run one after the other. GCC's runtime is not known to the thread
# sanitizer, which would report every one of its barriers.
find_package(OpenMP COMPONENTS C)
if(OpenMP_C_FOUND AND NOT DRYFRONT_SANITIZE MATCHES "thread")
  target_link_libraries(dryfront_dependencies INTERFACE OpenMP::OpenMP_C)
  set(DRYFRONT_OPENMP_FLAGS "${OpenMP_C_FLAGS}")
else()
  target_compile_options(dryfront_dependencies INTERFACE -Wno-unknown-pragmas)
  set(DRYFRONT_OPENMP_FLAGS "")
endif()
